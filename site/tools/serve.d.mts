// Types of serve.mjs, for the tests.

export interface PageServer {
    url: string;
    stop: () => Promise<void>;
}

export function serve(folder: string, port?: number): Promise<PageServer>;
