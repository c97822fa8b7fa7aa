// What does the form offer? The core's field table, as it was when the page was built.

import text from "../../public/fields.json?raw";
import { fieldTable, type CoreFields, type FieldTable } from "./fields";

export const table: FieldTable = fieldTable(JSON.parse(text) as CoreFields);
