// What the build makes up: see tools/licences.ts.

declare module "virtual:licences" {
    const text: string;
    export default text;
}
