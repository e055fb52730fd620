// Sends requests to the server, one of a kind at a time: a newer one aborts the one before.

const running = new Map();
// How often a request to a busy server is repeated [-].
const MAX_RETRIES = 5;

/** A refusal of the server [RFC 9457], with the field it is about, what was found and what is allowed. */
export class Problem extends Error {
  constructor(body, status) {
    super(body.detail || body.title || `The server responded with ${status}.`);
    Object.assign(this, { field: body.field, found: body.found, allowed: body.allowed, nearest: body.nearest, status });
  }

  /** Text beside the field. */
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

/** Sends a request; `body` makes it a POST of JSON, `key` one that can be sent again. Returns the response, checked; to a busy server it is sent again later. */
export async function request(path, options = {}) {
  for (let retries = MAX_RETRIES; ; retries -= 1) {
    const response = await send(path, options);
    if (response.ok) return response;
    const problem = await response.json().catch(() => ({}));
    const pause = response.status === 503 ? Number(response.headers.get("retry-after")) : 0;
    if (!pause || retries === 0) throw new Problem(problem, response.status);
    await rest(1000 * pause, options.signal);
  }
}

/** Lets time pass; ends early with an error when the signal aborts. */
function rest(duration, signal) {
  return new Promise((done, failed) => {
    setTimeout(done, duration);
    signal?.addEventListener("abort", () => failed(signal.reason));
  });
}

function send(path, { body, query = {}, signal, token, key }) {
  const suffix = new URLSearchParams(query).toString();
  const options = { signal, headers: { accept: "application/json, */*" } };
  if (token) options.headers.authorization = `Bearer ${token}`;
  if (key) options.headers["idempotency-key"] = key;
  if (body !== undefined) {
    options.method = "POST";
    options.headers["content-type"] = "application/json";
    options.body = JSON.stringify(body);
  }
  return fetch(`api/${path}${suffix ? `?${suffix}` : ""}`, options);
}

/** Requests JSON. */
export async function requestJson(path, options) {
  return (await request(path, options)).json();
}
