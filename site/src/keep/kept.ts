// What the service worker keeps, as the build tells it.

export interface Kept {
    /** another one whenever one of the files is */
    version: string;
    /** as they are asked for; the page itself as its folder */
    files: string[];
}
