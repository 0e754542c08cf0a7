// The line to the host: one websocket at a time, reopened until the host says
// that it is final.
//
// A phone that walks out of Wi-Fi gets no close event: its socket stays open,
// takes frames and loses them, and even close() hangs. So nothing here trusts
// the socket's own state. Whatever must be answered has a time limit, and a
// socket that misses one is let go and forgotten.

/**
 * @typedef {import('./frames.js').View} View
 * @typedef {import('./outbox.js').Outbox} Outbox
 * @typedef {'new' | 'up' | 'down' | 'shut'} LineState
 *   new: not heard of the host since the page opened; up: a view has come
 *   through this socket; down: lost, working on it; shut: the host said final.
 */

/** Milliseconds. */
export const LIMITS = {
  beat: 15_000, // between beats while the page is visible
  answer: 6_000, // for a beat, and for the first frame of a new socket
  ack: 5_000, // for kept or refused after a lock or sit
  backoffMin: 500,
  backoffMax: 8_000,
};

export class Line {
  /**
   * @param {Object} o
   * @param {string} o.url          ws: or wss: address
   * @param {object} o.hello        first frame of every socket
   * @param {Outbox} o.outbox
   * @param {(frame: any) => void} o.onFrame  every frame but beats
   * @param {(state: LineState) => void} o.onState
   */
  constructor(o) {
    this.o = o;
    /** @type {LineState} */
    this.state = 'new';
    /** When the line last tried to reach the host, ms since the epoch; 0 = never. */
    this.triedAt = 0;
    /** @type {WebSocket | null} */
    this.socket = null;
    this.frames = 0; // heard on any socket
    this.fails = 0;
    /** @type {Record<string, ReturnType<typeof setTimeout> | undefined>} one timer a purpose */
    this.timers = {};
  }

  /** wake opens the line when it is closed and proves it when it is open. */
  wake() {
    if (this.state === 'shut') return;
    if (this.state === 'up') this.beat();
    // A socket that is still opening has its own time limit.
    else if (!this.socket || this.socket.readyState > 1) this.open();
  }

  /** again opens a line that the host had closed for good. */
  again() {
    this.drop();
    this.fails = 0;
    this.set('new');
    this.open();
  }

  /**
   * post puts a frame that the host must decide into the outbox, and only then
   * sends it.
   * @param {import('./frames.js').Sit | import('./frames.js').Lock} frame
   */
  post(frame) {
    this.o.outbox.add(frame);
    if (this.state === 'up') this.resend();
  }

  /**
   * tell sends a frame that has no reply. It reports false when the line is
   * down and nothing was sent.
   * @param {object} frame
   */
  tell(frame) {
    if (this.state !== 'up') return false;
    this.put(frame);
    return true;
  }

  /** @private */
  open() {
    this.drop();
    this.triedAt = Date.now();
    let socket;
    try {
      socket = new WebSocket(this.o.url);
    } catch {
      this.lost();
      return;
    }
    this.socket = socket;
    socket.onopen = () => this.put(this.o.hello);
    socket.onmessage = (e) => this.heard(e.data);
    socket.onclose = () => this.lost();
    this.after('answer', LIMITS.answer, () => this.lost());
  }

  /** @private Lets the socket go without waiting for it: close() may hang. */
  drop() {
    for (const t of Object.values(this.timers)) clearTimeout(t);
    this.timers = {};
    const s = this.socket;
    this.socket = null;
    if (!s) return;
    s.onopen = s.onmessage = s.onclose = null;
    s.close();
  }

  /** @private */
  lost() {
    this.drop();
    if (this.state === 'shut') return;
    if (this.state === 'up') this.set('down');
    else if (this.fails > 0) this.set('down'); // the first try may miss unremarked
    const wait = Math.min(LIMITS.backoffMax, LIMITS.backoffMin * 2 ** this.fails);
    this.fails++;
    // Up to a quarter less, so that a room of phones does not knock in step.
    this.after('open', wait * (1 - Math.random() / 4), () => this.open());
  }

  /**
   * @private
   * @param {string} text
   */
  heard(text) {
    let frame;
    try {
      frame = JSON.parse(text);
    } catch {
      return; // not ours; the time limits go on running
    }
    this.frames++;
    clearTimeout(this.timers.answer);
    if (frame.t === 'beat') return;
    if (frame.t === 'refused' && frame.final) {
      this.set('shut');
      this.drop();
    }
    const fresh = frame.t === 'view' && this.state !== 'up';
    if (fresh) this.fails = 0;
    this.o.onFrame(frame); // before the resend: what it settles is not sent again
    if (fresh) {
      this.set('up');
      this.resend();
      this.nextBeat();
    }
    if (frame.t === 'refused' && frame.why === 'busy') this.after('ack', LIMITS.ack, () => this.resend());
    else if (frame.t === 'kept' || frame.t === 'refused') this.watch();
  }

  /** @private Sends the whole outbox and waits for its answers. */
  resend() {
    const frames = this.o.outbox.all();
    for (const f of frames) this.put(f);
    this.watch();
  }

  /**
   * @private While the outbox holds something, the host has `ack` to answer. A
   * socket that brought other frames meanwhile is alive: the outbox goes out
   * again on it. A silent one is let go.
   */
  watch() {
    clearTimeout(this.timers.ack);
    if (!this.o.outbox.all().length) return;
    const before = this.frames;
    this.after('ack', LIMITS.ack, () => {
      if (this.frames > before) this.resend();
      else this.reopen();
    });
  }

  /** @private A line found dead is reopened at once; only failures back off. */
  reopen() {
    this.set('down');
    this.open();
  }

  /** @private */
  beat() {
    this.put({ t: 'beat' });
    this.after('answer', LIMITS.answer, () => this.reopen());
    this.nextBeat();
  }

  /** @private A hidden page is asleep: it beats again when it is looked at. */
  nextBeat() {
    this.after('beat', LIMITS.beat, () => {
      if (document.visibilityState === 'visible') this.beat();
    });
  }

  /**
   * @private
   * @param {object} frame
   */
  put(frame) {
    this.triedAt = Date.now();
    if (this.socket?.readyState === 1) this.socket.send(JSON.stringify(frame));
  }

  /**
   * @private
   * @param {string} what
   * @param {number} ms
   * @param {() => void} f
   */
  after(what, ms, f) {
    clearTimeout(this.timers[what]);
    this.timers[what] = setTimeout(f, ms);
  }

  /**
   * @private
   * @param {LineState} state
   */
  set(state) {
    if (this.state === state) return;
    this.state = state;
    this.o.onState(state);
  }
}
