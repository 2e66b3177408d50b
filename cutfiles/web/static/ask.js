// Questions to the program that serves this page, and its refusals in plain words.

export class Refusal extends Error {
  constructor(status, answer) {
    super(wordsOf(status, answer));
    this.status = status;
    this.findings = answer?.findings ?? [];
  }

  // Another window changed the order first.
  get isStale() {
    return this.status === 409 && this.findings[0]?.code === "stale";
  }

  // There is no room on the disk: the same may do once there is.
  get isPassing() {
    return this.status === 507;
  }
}

export class NoAnswer extends Error {
  constructor() {
    super("The program does not answer. Look whether it still runs in its window; what you wrote here is kept until it does.");
  }
}

function wordsOf(status, answer) {
  if (answer?.findings?.length) return answer.findings.map((finding) => finding.text).join("\n");
  return `The program could not do that (${status}).`;
}

export async function ask(path, body, method = body === undefined ? "GET" : "POST") {
  const request = { method, headers: { Accept: "application/json" }, cache: "no-store" };
  if (body instanceof FormData) request.body = body;
  else if (body !== undefined) {
    request.body = JSON.stringify(body);
    request.headers["Content-Type"] = "application/json";
  }
  let response;
  try {
    response = await fetch(path, request);
  } catch {
    throw new NoAnswer();
  }
  let answer = null;
  try {
    answer = await response.json();
  } catch {
    // an answer without words: its status has to do
  }
  if (!response.ok) throw new Refusal(response.status, answer);
  return answer;
}
