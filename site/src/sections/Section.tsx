// How is the page parted? Numbered nowhere, ruled off like a printed sheet; each section can be reached
// from the contents.

import type { ComponentChildren } from "preact";

export const SECTIONS = [
    ["model", "Your model"],
    ["throttle", "Throttle and temperature"],
    ["causes", "Where the heat comes from"],
    ["pwm", "PWM frequency"],
    ["flight", "The flight"],
    ["limits", "How far it goes"],
    ["changes", "What would help"],
    ["checks", "Checks"],
    ["learn", "Learn from readings"],
    ["assumed", "What is assumed"],
    ["keep", "Keep and share"],
    ["cautions", "Cautions"],
] as const;

type SectionId = (typeof SECTIONS)[number][0];

export const titleOf = (id: SectionId): string =>
    SECTIONS.find(([section]) => section === id)?.[1] ?? "";

/** Leads there, with eye and cursor. */
export function goToSection(id: SectionId): void {
    document.getElementById(id)?.scrollIntoView();
    document.getElementById(`${id}-title`)?.focus({ preventScroll: true });
}

export function Section({ id, children }: { id: SectionId; children: ComponentChildren }) {
    return (
        <section id={id} aria-labelledby={`${id}-title`}>
            <h2 id={`${id}-title`} tabIndex={-1}>
                {titleOf(id)}
            </h2>
            {children}
        </section>
    );
}
