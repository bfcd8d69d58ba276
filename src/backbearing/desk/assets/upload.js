// A file of this computer goes to the desk's own server, and nowhere else.
import { Trouble } from "/script/ask.js";

export async function upload(path, file) {
  let given;
  try {
    given = await fetch(`${path}/${encodeURIComponent(file.name)}`, { method: "POST", headers: { "content-type": "application/octet-stream" }, body: file });
  } catch {
    throw new Trouble("The file did not reach the desk. Was it closed in the terminal?");
  }
  const said = await given.json().catch(() => ({}));
  if (!given.ok) throw new Trouble(said.error || "The desk could not take that file.");
  return said;
}
