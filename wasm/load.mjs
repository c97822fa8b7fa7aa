// How does JavaScript call the core? Starts hotband.wasm and gives its six calls, in a page, in a
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

/** @type {typeof import("./load.d.mts").load} */
export async function load(source) {
    const module =
        source instanceof WebAssembly.Module ? source : await WebAssembly.compile(source);
    let core = start(module);

    function call(name, input, ...numbers) {
        try {
            // after a trap the old instance's memory is in no known state
            core ??= start(module);
            const bytes = encoder.encode(input);
            const at = core.hotband_alloc(bytes.length);
            new Uint8Array(core.memory.buffer).set(bytes, at);
            const answer = core[`hotband_${name}`](at, bytes.length, ...numbers);
            const size = new DataView(core.memory.buffer).getUint32(answer, true);
            const json = decoder.decode(new Uint8Array(core.memory.buffer, answer + 4, size));
            core.hotband_free(answer);
            core.hotband_free(at);
            return JSON.parse(json);
        } catch (cause) {
            core = undefined;
            throw new Error(`the core failed in ${name}: ${cause.message}`, { cause });
        }
    }

    return {
        advise: (setupJson, samples = -1) => call("advise", setupJson, samples),
        cycle: (caseJson) => call("cycle", caseJson),
        heat: (caseJson) => call("heat", caseJson),
        link: (setupJson) => call("link", setupJson),
        unlink: (link) => call("unlink", link),
        fields: () => call("fields", ""),
    };
}
