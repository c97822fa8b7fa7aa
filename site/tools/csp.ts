// What may the page load and run? Its own files and nothing else; the one-file build only the very text
// it was built with. Written into the page as a meta tag, where no server can forget it.

import { createHash } from "node:crypto";
import type { Plugin } from "vite";

interface Sources {
    script: string;
    style: string;
    worker: string;
    /** for files that lie beside the page */
    files: string;
}

const policy = ({ script, style, worker, files }: Sources): string =>
    [
        "default-src 'none'",
        `script-src ${script} 'wasm-unsafe-eval'`,
        `style-src ${style}`,
        `worker-src ${worker}`,
        `connect-src ${files}`,
        `img-src ${files}`,
        `manifest-src ${files}`,
        "base-uri 'none'",
        "form-action 'none'",
    ].join("; ");

const OWN = "'self'";
const OF_FILES = policy({ script: OWN, style: OWN, worker: OWN, files: OWN });

const withPolicy = (html: string, content: string): string =>
    html.replace(
        /<meta charset="utf-8"\s*\/?>/,
        (charset) => `${charset}\n<meta http-equiv="Content-Security-Policy" content="${content}">`,
    );

/** For a page whose scripts and styles are files beside it. */
export const strictCsp = (): Plugin => ({
    name: "strict-csp",
    apply: "build",
    transformIndexHtml: {
        order: "post",
        handler: (html) => withPolicy(html, OF_FILES),
    },
});

/** For a page with everything inside: each script and style by its hash. */
export const strictCspOfOneFile = (): Plugin => ({
    name: "strict-csp-of-one-file",
    apply: "build",
    enforce: "post",
    generateBundle: {
        order: "post",
        handler(_options, bundle) {
            for (const file of Object.values(bundle)) {
                if (file.type !== "asset" || !file.fileName.endsWith(".html")) continue;
                const html = String(file.source);
                const script = hashes(html, "script");
                const style = hashes(html, "style");
                const content = policy({ script, style, worker: "blob:", files: "'none'" });
                file.source = withPolicy(html, content);
            }
        },
    },
});

const hashes = (html: string, tag: string): string =>
    [...html.matchAll(new RegExp(`<${tag}\\b[^>]*>([^]*?)</${tag}>`, "g"))]
        .map((match) =>
            createHash("sha256")
                .update(match[1] ?? "")
                .digest("base64"),
        )
        .map((hash) => `'sha256-${hash}'`)
        .join(" ");
