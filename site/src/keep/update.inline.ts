// How does the one-file page renew itself? It does not: the file is all there is.

import type { UpdateNews } from "./update";

export function watchUpdates(_news: UpdateNews): void {}
