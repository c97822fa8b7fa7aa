// Is there a newer page? Says so and waits: entries are kept on the phone before it reloads.

import { useState } from "preact/hooks";

export function UpdateNotice({ use }: { use: () => void }) {
    const [later, setLater] = useState(false);
    if (later) return null;
    return (
        <div class="notice">
            <p>A newer Hotband is here. Your entries stay.</p>
            <button type="button" onClick={use}>
                Use it
            </button>
            <button type="button" onClick={() => setLater(true)}>
                Later
            </button>
        </div>
    );
}
