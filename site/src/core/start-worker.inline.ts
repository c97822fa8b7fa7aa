// Where does the worker's script come from in the one-file build? From the page's own text.

import InlineWorker from "./worker.ts?worker&inline";

export const startWorker = (): Worker => new InlineWorker();
