// Tells, of several OpenAPI documents, what in each breaks a client made for the first: JSON, file name -> list of texts.
//   node breaking.mjs RELEASED.json NEW.json …
// The comparison is api-smart-diff's. It knows no direction for what stands under components, so from there only a
// changed type counts (it tells that of an answer only there); the rest is told again where the schema is used.
import { readFileSync } from "node:fs";
import { apiDiff } from "api-smart-diff";

const read = (file) => JSON.parse(readFileSync(file, "utf8"));

function breaks({ type, action, path }) {
  const [section] = path;
  // A quantity's pattern follows its list of units, which is compared itself.
  if (path.at(-1) === "pattern") return false;
  // An input that is gone is refused, since unknown fields are.
  if (action === "remove" && path.includes("requestBody") && path.at(-2) === "properties") return true;
  return type === "breaking" && (section !== "components" || action === "replace");
}

// Names that generated code is made of: methods and types.
function* lostNames(released, next) {
  for (const [path, methods] of Object.entries(released.paths)) {
    for (const [method, { operationId }] of Object.entries(methods)) {
      const now = next.paths[path]?.[method]?.operationId;
      if (now !== undefined && now !== operationId) yield `operation ${operationId} is now ${now}`;
    }
  }
  for (const name of Object.keys(released.components.schemas)) {
    if (!(name in next.components.schemas)) yield `schema ${name} is gone`;
  }
}

const [first, ...others] = process.argv.slice(2);
const told = {};
for (const file of others) {
  const [released, next] = [read(first), read(file)]; // both anew: the comparison writes into them
  const found = apiDiff(released, next).filter(breaks);
  told[file] = [...found.map(({ action, path }) => `${action} ${path.join("/")}`), ...lostNames(released, next)];
}
console.log(JSON.stringify(told));
