// What comes after the first screen? Pictures, lists, learning, keeping and the card: a file of their own,
// fetched once the verdict stands.

export { Answer } from "./Answer";
export { FieldCard } from "./FieldCard";
export { Keep } from "./Keep";
export { Learn } from "./Learn";
