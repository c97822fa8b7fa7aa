// How does JavaScript call the core? Starts hotband.wasm and gives its seven calls, in a page, in a
// worker and in node alike. Texts cross as UTF-8; answers come back as plain objects.

const encoder = new TextEncoder();
const decoder = new TextDecoder();

/** What the module asks of the world around it. The core does no input or output, so that each import is a
 *  leftover of the C library and only reached when something is wrong. */
function surroundings(module) {
    const imports = {};
    for (const { module: space, name } of WebAssembly.Module.imports(module)) {
        imports[space] ??= {};
        imports[space][name] = () => {
            throw new Error(`the core called ${name}`);
        };
    }
    // told after each growth of the memory; nothing is cached here, so nothing is to be done
    if (imports.env?.emscripten_notify_memory_growth) {
        imports.env.emscripten_notify_memory_growth = () => {};
    }
    return imports;
}

function start(module) {
    const { exports } = new WebAssembly.Instance(module, surroundings(module));
    exports._initialize?.();
    return exports;
}

/** Puts the bytes of an array into the core's memory. */
function put(core, array) {
    const bytes = new Uint8Array(array.buffer, array.byteOffset, array.byteLength);
    const at = core.hotband_alloc(bytes.length);
    new Uint8Array(core.memory.buffer).set(bytes, at);
    return { at, size: bytes.length };
}

/** The text of an answer, which is given back. */
function take(core, answer) {
    const size = new DataView(core.memory.buffer).getUint32(answer, true);
    const text = decoder.decode(new Uint8Array(core.memory.buffer, answer + 4, size));
    core.hotband_free(answer);
    return text;
}

/** What `ask` gives. An engine may trap where the module does not (WebKit, once in some hundreds of reports:
 *  "Out of bounds memory access"); an answer hangs on its question alone, so that a trap is asked once more. */
function answerOf(name, ask) {
    for (let tries = 1; ; tries += 1) {
        try {
            return ask();
        } catch (cause) {
            if (tries === 1 && cause instanceof WebAssembly.RuntimeError) continue;
            throw new Error(`the core failed in ${name}: ${cause.message}`, { cause });
        }
    }
}

/** @type {typeof import("./load.d.mts").load} */
export async function load(source) {
    const module =
        source instanceof WebAssembly.Module ? source : await WebAssembly.compile(source);
    let core = start(module);

    function call(name, input, ...numbers) {
        return answerOf(name, () => {
            const used = core ?? start(module);
            // after a trap its memory is in no known state: kept only if all goes well
            core = undefined;
            const text = put(used, encoder.encode(input));
            const answer = used[`hotband_${name}`](text.at, text.size, ...numbers);
            const json = take(used, answer);
            used.hotband_free(text.at);
            core = used;
            return JSON.parse(json);
        });
    }

    /** In an instance of its own: a log may be large, and a memory that grew never shrinks. */
    function log(table, columns, optionsJson) {
        return answerOf("log", () => {
            const own = start(module);
            const numbers = put(own, table);
            const text = put(own, encoder.encode(optionsJson));
            const answer = own.hotband_log(numbers.at, table.length, columns, text.at, text.size);
            return JSON.parse(take(own, answer));
        });
    }

    return {
        advise: (setupJson, samples = -1) => call("advise", setupJson, samples),
        cycle: (caseJson) => call("cycle", caseJson),
        heat: (caseJson) => call("heat", caseJson),
        link: (setupJson) => call("link", setupJson),
        unlink: (link) => call("unlink", link),
        fields: () => call("fields", ""),
        log,
    };
}
