// Engraves the MusicXML files that are named and prints for each how many notes,
// syllables of lyrics, slurs and bar numbers the engraving has. Needs the npm package
// verovio (6.3.0) on NODE_PATH.
import { createRequire } from "node:module";
import { readFileSync } from "node:fs";
import { delimiter } from "node:path";
import { pathToFileURL } from "node:url";

const require = createRequire(import.meta.url);
const paths = (process.env.NODE_PATH ?? "").split(delimiter).filter(Boolean);
const load = async (name) => import(pathToFileURL(require.resolve(name, { paths })).href);
const { default: createModule } = await load("verovio/wasm");
const { VerovioToolkit } = await load("verovio/esm");
const toolkit = new VerovioToolkit(await createModule());
toolkit.setOptions({ breaks: "none", footer: "none", header: "none" });
for (const path of process.argv.slice(2)) {
  if (!toolkit.loadData(readFileSync(path, "utf8"))) throw new Error(`${path} cannot be engraved`);
  const svg = toolkit.renderToSVG(1);
  const count = (name) => svg.split(`class="${name}"`).length - 1 + svg.split(`class="${name} `).length - 1;
  console.log([count("note"), count("syl"), count("slur"), count("measure")].join(" "));
}
