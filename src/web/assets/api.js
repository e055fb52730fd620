// How does the page ask the server? One request of a kind at a time: a newer one aborts the one before.

const running = new Map();

/** A refusal of the server [RFC 9457], with the field it is about, what was found and what is allowed. */
export class Problem extends Error {
  constructor(body, status) {
    super(body.detail || body.title || `The server answered with ${status}.`);
    Object.assign(this, { field: body.field, found: body.found, allowed: body.allowed, nearest: body.nearest, status });
  }

  /** What to say beside the field. */
  inWords() {
    if (this.allowed === undefined) return this.message;
    const hint = this.nearest ? `; did you mean ${this.nearest}?` : "";
    return `found ${this.found ?? "nothing"}, allowed: ${this.allowed}${hint}`;
  }
}

/** A new signal for requests of this kind; the requests before it are aborted. */
export function renewed(kind) {
  running.get(kind)?.abort();
  const controller = new AbortController();
  running.set(kind, controller);
  return controller.signal;
}

/** Whether an error only says that a newer request took over. */
export const superseded = (error) => error.name === "AbortError";

/** Asks; `body` makes it a POST of JSON. The answer is the response, checked. */
export async function ask(path, { body, query = {}, signal, token } = {}) {
  const suffix = new URLSearchParams(query).toString();
  const options = { signal, headers: { accept: "application/json, */*" } };
  if (token) options.headers.authorization = `Bearer ${token}`;
  if (body !== undefined) {
    options.method = "POST";
    options.headers["content-type"] = "application/json";
    options.body = JSON.stringify(body);
  }
  const response = await fetch(`api/${path}${suffix ? `?${suffix}` : ""}`, options);
  if (response.ok) return response;
  const problem = await response.json().catch(() => ({}));
  throw new Problem(problem, response.status);
}

/** Asks for JSON. */
export async function askJson(path, options) {
  return (await ask(path, options)).json();
}
