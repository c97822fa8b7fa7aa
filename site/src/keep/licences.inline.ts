// Under which licences is the one-file page? The text stands within it.

import text from "virtual:licences";

export const readLicences = async (): Promise<string> => text;
