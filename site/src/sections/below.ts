// What comes after the first screen? Pictures, lists, learning and the card: a file of their own, fetched once
// there is a model to say something of.

export { Answer } from "./Answer";
export { FieldCard } from "./FieldCard";
export { Learn } from "./Learn";
