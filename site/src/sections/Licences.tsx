// What is the page made of, and under which licences?

import { useEffect, useState } from "preact/hooks";
import { readLicences } from "../keep/licences";

export function Licences() {
    const [text, setText] = useState("");
    useEffect(() => {
        readLicences().then(setText, () => setText("▲ Not here: the page's files are incomplete."));
    }, []);
    return (
        <pre class="licences" tabIndex={0} aria-label="Licences">
            {text}
        </pre>
    );
}
