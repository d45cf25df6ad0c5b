// Sends numbered pieces to the server in order, and keeps each until the server says that it is on the disk.

export class Trouble extends Error {
  constructor(what, then) {
    super(what);
    this.what = what;
    this.then_ = then;
  }
}

const ANSWERS = 15_000; // ms in which offbook, on the same machine, surely answers; set by hand

export async function ask(token, at, body, signal) {
  const answer = await fetch(at, {
    method: "POST", body, signal: signal ?? AbortSignal.timeout(ANSWERS),
    headers: { "X-Offbook-Token": token, Accept: "application/json" },
  });
  return read(answer);
}

async function read(answer) {
  if (answer.ok) return answer.json();
  const told = await answer.json().catch(() => ({}));
  throw new Trouble(told.what ?? "offbook refused this", told.do ?? "load the page again");
}

export const pause = (ms) => new Promise((done) => setTimeout(done, ms));

const FIRST_PAUSE = 200, LONGEST_PAUSE = 2000; // ms between two tries while the server does not answer, each twice the last; set by hand

// Asks the server until it answers; for questions that change nothing, or that may be asked twice.
// silent(true) is called when it does not answer, silent(false) when it answers again.
export async function askUntilAnswered(question, silent) {
  for (let wait = FIRST_PAUSE, lost = false; ; wait = Math.min(LONGEST_PAUSE, wait * 2)) {
    try {
      const told = await question();
      if (lost) silent(false);
      return told;
    } catch (error) {
      if (error instanceof Trouble) throw error;
      if (!lost) silent(lost = true);
      await pause(wait);
    }
  }
}

async function look(at, wait) {
  return read(await fetch(at, { headers: { Accept: "application/json" }, signal: AbortSignal.timeout(wait) }));
}

// What the server knows about something, as soon as it answers. wait: ms that one answer may take.
export const lookedUp = (at, silent, wait = ANSWERS) => askUntilAnswered(() => look(at, wait), silent);

const TAKEN = 8000; // ms in which a piece is written, even on a busy machine; set by hand

export class Sender {
  // at(number, last, unsent): the address of a piece behind which so many still wait. heard(told): called with each answer.
  // trouble(error, lost): called once for each change; lost is true while the server does not answer.
  // most: how many pieces are sent together where the machine was too busy to send each by itself.
  constructor(token, at, heard, trouble, most) {
    Object.assign(this, { token, at, heard, trouble, most });
    this.waiting = [];
    this.next = 0;
    this.made = 0;
    this.running = false;
    this.lost = false;
    this.dead = null;
  }

  add(sound, last) {
    this.waiting.push({ number: this.made, sound, last });
    this.made += 1;
    if (!this.running) this.work = this.run();
  }

  async run() {
    this.running = true;
    let wait = FIRST_PAUSE;
    while (this.waiting.length && !this.dead) {
      const together = this.waiting.slice(0, this.most);
      const sound = new Blob(together.map((each) => each.sound));
      const { number } = together[0], { last } = together.at(-1);
      try {
        const told = await ask(this.token, this.at(number, last, this.waiting.length - together.length), sound, AbortSignal.timeout(TAKEN));
        if (this.lost) { this.lost = false; this.trouble(null, false); }
        wait = FIRST_PAUSE;
        this.next = told.next;
        while (this.waiting.length && this.waiting[0].number < told.next) this.waiting.shift();
        if (this.waiting.length && this.waiting[0].number > told.next) {
          this.dead = new Trouble("a piece of the sound went missing", "stop, and hear what there is");
          this.trouble(this.dead, false);
        }
        this.heard(told);
      } catch (error) {
        if (error instanceof Trouble) {
          this.dead = error;
          this.trouble(error, false);
        } else {
          if (!this.lost) { this.lost = true; this.trouble(null, true); }
          await pause(wait);
          wait = Math.min(LONGEST_PAUSE, wait * 2);
        }
      }
    }
    this.running = false;
  }

  // Resolves when everything that was added is acknowledged.
  async flush() {
    await this.work;
    if (this.dead) throw this.dead;
  }
}
