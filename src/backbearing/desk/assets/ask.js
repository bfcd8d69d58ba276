// Questions to the desk: the newest of a kind counts, an older one's answer is dropped.
const running = new Map();

export class Trouble extends Error {}

export function address(path, asked) {
  const query = new URLSearchParams();
  for (const [key, value] of Object.entries(asked)) {
    query.set(key, typeof value === "object" ? JSON.stringify(value) : String(value));
  }
  return `${path}?${query}`;
}

async function answer(kind, url, options) {
  running.get(kind)?.abort();
  const mine = new AbortController();
  running.set(kind, mine);
  try {
    const given = await fetch(url, { ...options, signal: mine.signal });
    if (given.status === 204) return running.get(kind) === mine ? undefined : null;
    if (!given.ok) {
      const said = await given.json().catch(() => ({}));
      throw new Trouble(said.error || "The desk could not answer that.");
    }
    const body = await given.json();
    return running.get(kind) === mine ? body : null;
  } catch (problem) {
    if (mine.signal.aborted) return null;
    if (problem instanceof Trouble) throw problem;
    throw new Trouble("The desk does not answer. Was it closed in the terminal?");
  }
}

// null: overtaken by a newer question; undefined: there is nothing to show.
export const ask = (kind, path, asked = {}) => answer(kind, address(path, asked), {});
export const tell = (path, body) =>
  answer(path, path, {
    method: "POST",
    headers: { "content-type": "application/json" },
    body: JSON.stringify(body),
  });
