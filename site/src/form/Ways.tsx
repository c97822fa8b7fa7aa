// Which of a few is it? All of them side by side, one of them chosen.

interface Props<Way extends string> {
    /** of the group, among all on the page */
    name: string;
    /** each with what is written on it */
    ways: readonly (readonly [Way, string])[];
    chosen: unknown;
    onChoose: (way: Way) => void;
    id?: string;
    "aria-label"?: string;
    "aria-labelledby"?: string;
    "aria-describedby"?: string | undefined;
}

export function Ways<Way extends string>(props: Props<Way>) {
    const { name, ways, chosen, onChoose, ...called } = props;
    return (
        <span class="choice" role="radiogroup" {...called}>
            {ways.map(([way, text]) => (
                <label key={way}>
                    <input
                        type="radio"
                        name={name}
                        checked={chosen === way}
                        onChange={() => onChoose(way)}
                    />
                    <span>{text}</span>
                </label>
            ))}
        </span>
    );
}
