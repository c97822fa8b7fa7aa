// Under which licences is the page? A text beside it, fetched when somebody asks.

export const readLicences = async (): Promise<string> => (await fetch("licences.txt")).text();
