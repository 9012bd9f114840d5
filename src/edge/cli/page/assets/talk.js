// @ts-check
// What the page asks the program.
export class Gone extends Error {}
export class Refused extends Error {
  /** @param {number} status @param {any} said */
  constructor(status, said) {
    super(said?.why || "the program did not do it");
    this.status = status;
    this.said = said || {};
  }
}

/** @param {string} path @param {unknown} [body] @param {AbortSignal} [signal] */
async function had(path, body, signal) {
  const how = body === undefined ? {} : { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(body) };
  let answer;
  try {
    answer = await fetch(path, { ...how, signal, credentials: "same-origin" });
  } catch (e) {
    if (signal?.aborted) throw e;
    throw new Gone("the program does not answer");
  }
  if (!answer.ok) throw new Refused(answer.status, await answer.json().catch(() => null));
  return answer;
}

/** @param {string} path @param {unknown} [body] @param {AbortSignal} [signal] @returns {Promise<any>} */
export async function ask(path, body, signal) {
  return (await had(path, body, signal)).json();
}

/** An answer of lines, each told as it comes. @param {string} path @param {unknown} body @param {(line: any) => void} tell @param {AbortSignal} [signal] */
export async function lines(path, body, tell, signal) {
  const answer = await had(path, body, signal);
  const reader = /** @type {ReadableStream<Uint8Array>} */ (answer.body).getReader(), words = new TextDecoder();
  let rest = "";
  for (;;) {
    const { done, value } = await reader.read().catch(e => { if (signal?.aborted) throw e; throw new Gone("the program broke off"); });
    rest += words.decode(value, { stream: !done });
    const whole = rest.split("\n");
    rest = whole.pop() || "";
    for (const line of whole) if (line) tell(JSON.parse(line));
    if (done) return;
  }
}
