/* A ring's price on a page of any origin, for sizes to choose from, and a button that
holds it; between its tags stands what is shown where no script runs:

<script type="module" src="https://workshop.example/window/ring-price.js"></script>
<ring-price sku="…" key="fw_window_…">from 89.95 EUR</ring-price>

Attributes: sku, key; server, if not the script's; system and size to begin with; name,
required and submit for the form it stands in; text-… for each text below.
Events: ring-price-held, ring-price-cleared. Method: refresh(). */
const TEXTS = {
	system: "Size system",
	size: "Ring size",
	quantity: "Quantity",
	choose: "Choose a size",
	from: "from {price}",
	each: "{price} each.",
	"tax-in": "Includes {tax} of tax.",
	"tax-on": "{tax} of tax is added.",
	"tax-none": "No tax is charged.",
	made_to_order: "Made to order.",
	in_stock: "In stock.",
	until: "This price stands until {time}.",
	hold: "Hold this price",
	working: "One moment …",
	done: "This price is held",
	held: "{total} is held for you until {time}. Number of the hold: {number}.",
	moved: "Before, {total} was shown.",
	ended: "The hold is over. This is the price of today.",
	"error-size": "Choose a ring size first.",
	"error-quantity": "Give a whole number from 1 to 99 as the quantity.",
	"error-lost": "The workshop cannot be reached. Try again in a moment.",
	"error-often": "That was asked too often. Try again in {seconds} seconds.",
	"error-gone": "This ring is not offered at the moment.",
	"error-later": "The price cannot be held at the moment. Try again later.",
	"error-key": "This page may not ask for prices. Tell the shop about it.",
	"error-other": "That did not work. Try again in a moment.",
};
const REFUSED = { 401: "key", 403: "key", 404: "gone", 409: "later", 429: "often" };
const SOONEST = 30e3; // ms between two prices asked for by the clock
const LATEST = 2 ** 31 - 1; // ms, what a timer can hold

const letter = (n) =>
	(n < 52 ? String.fromCharCode(65 + (n >> 1)) : `Z+${(n >> 1) - 25}`) + (n % 2 ? " 1/2" : "");
// First and last mark, how it is written, its inside diameter [mm].
const SCALES = {
	us: [0, 96, (n) => `${n / 4}`, (n) => 25.4 * (0.458 + 0.008 * n)],
	uk: [0, 96, letter, (n) => (37.5 + 0.625 * n) / Math.PI],
	iso: [41, 76, String, (n) => n / Math.PI],
	jp: [1, 55, String, (n) => 13 + (n - 1) / 3],
	ch: [0, 57, String, (n) => (n + 40) / Math.PI],
};
// The marks of a system that lie in a band, each with its quarters of a US size.
const offered = (system, bands) => {
	const [first, last, mark, diameter] = SCALES[system];
	const found = [];
	for (let n = first; n <= last; n++) {
		const at = Math.round((diameter(n) / 25.4 - 0.458) / 0.008);
		if (bands.some((band) => band.from * 4 <= at && at <= band.to * 4)) found.push([mark(n), at]);
	}
	return found;
};

const STYLE = new CSSStyleSheet();
STYLE.replaceSync(`
:host { display: block; max-width: 30rem }
:host([hidden]) { display: none }
* { box-sizing: border-box; font: inherit; color: inherit }
.box { display: grid; gap: .75rem; padding: var(--ring-price-padding, 1rem);
	border: 1px solid var(--ring-price-line, currentColor);
	border-radius: var(--ring-price-radius, .25rem);
	background: var(--ring-price-background, transparent) }
.fields { display: flex; flex-wrap: wrap; gap: .75rem }
label { display: grid; gap: .25rem; flex: 1 1 7rem }
select, input, button { min-height: 2.75rem; width: 100%; padding: .375rem .625rem;
	border: 1px solid var(--ring-price-line, currentColor);
	border-radius: var(--ring-price-radius, .25rem) }
select, input { color: var(--ring-price-field-ink, FieldText);
	background: var(--ring-price-field, Field) }
button { cursor: pointer; font-weight: 600;
	color: var(--ring-price-on-accent, Canvas);
	background: var(--ring-price-accent, CanvasText) }
button[aria-disabled=true] { cursor: default; color: inherit; background: none; border-style: dashed }
:focus-visible { outline: 3px solid var(--ring-price-focus, currentColor); outline-offset: 2px }
p, ul { margin: 0; overflow-wrap: anywhere }
ul { padding-inline-start: 1.25rem }
.total { font-size: 1.5em; font-weight: 600 }
.held, .error { padding-inline-start: .75rem; border-inline-start: .3rem solid }
:empty:is(p, ul) { display: none }
@media (forced-colors: active) {
	button { border: 2px solid ButtonBorder }
	:focus-visible { outline-color: Highlight }
}`);

const make = (tag, part, members = {}) => {
	const made = Object.assign(document.createElement(tag), members);
	if (part) made.className = made.part = part;
	return made;
};

class Refusal extends Error {}

class RingPrice extends HTMLElement {
	static formAssociated = true;
	static observedAttributes = ["sku", "server", "key"];

	#internals = this.attachInternals();
	#ui = null;
	#listing;
	#price = null;
	#held = null;
	#intention = null; // the Idempotency-Key of what is chosen, the same for every retry
	#asking;
	#again;
	#end;

	constructor() {
		super();
		const root = this.attachShadow({ mode: "open", delegatesFocus: true });
		root.adoptedStyleSheets = [STYLE];
		root.append(make("slot"), make("p", "error", { role: "alert" }));
	}

	connectedCallback() {
		this.#validate();
		this.refresh();
	}

	disconnectedCallback() {
		this.#asking?.abort();
		clearTimeout(this.#again);
		clearTimeout(this.#end);
	}

	attributeChangedCallback(name, before, now) {
		if (!this.isConnected || before === null || before === now) return;
		this.#clear();
		this.refresh();
	}

	formResetCallback() {
		this.#changed();
	}

	/* Ask for the sizes and the price again; what is held stays. */
	refresh() {
		return this.#guarded(async (signal) => {
			const sku = encodeURIComponent(this.getAttribute("sku"));
			this.#listing = await this.#fetch(`/v1/window/listings/${sku}`, { signal });
			this.#ui ??= this.#build();
			this.#ui.box.ariaLabel = this.#listing.title;
			this.#drawSystems();
			if (!this.#held) await this.#ask(signal);
		});
	}

	#text(name, values = {}) {
		const text = this.getAttribute(`text-${name}`) ?? TEXTS[name] ?? "";
		return text.replace(/{(\w+)}/g, (whole, key) => values[key] ?? whole);
	}

	#money(amount, { currency }) {
		const form = { style: "currency", currency, currencyDisplay: "code" };
		return new Intl.NumberFormat(this.#language, form).format(amount);
	}

	#time(stamp, day = {}) {
		const form = { hour: "2-digit", minute: "2-digit", timeZoneName: "short", ...day };
		return new Intl.DateTimeFormat(this.#language, form).format(new Date(stamp));
	}

	get #language() {
		return this.closest("[lang]")?.lang || undefined;
	}

	async #fetch(path, { headers, ...more }) {
		const server = this.getAttribute("server") ?? new URL(import.meta.url).origin;
		let answer;
		try {
			answer = await fetch(server + path, {
				headers: { Authorization: `Bearer ${this.getAttribute("key")}`, ...headers },
				credentials: "omit",
				cache: "no-cache",
				referrerPolicy: "no-referrer",
				...more,
			});
			if (answer.ok) return await answer.json();
		} catch (error) {
			throw more.signal.aborted ? error : new Refusal(this.#text("error-lost"));
		}
		const { detail } = answer.status === 422 ? await answer.json() : {};
		const seconds = answer.headers.get("Retry-After");
		const reason = `error-${REFUSED[answer.status] ?? "other"}`;
		throw new Refusal(detail ?? this.#text(reason, { seconds }));
	}

	/* Do what asks the server; only the last that was begun goes on. */
	async #guarded(work) {
		this.#asking?.abort();
		const asking = (this.#asking = new AbortController());
		this.#busy(true);
		this.#tell("error", "");
		try {
			await work(asking.signal);
		} catch (error) {
			if (asking.signal.aborted) return;
			this.#tell("error", error instanceof Refusal ? error.message : this.#text("error-other"));
		} finally {
			if (this.#asking === asking) this.#busy(false);
		}
	}

	#build() {
		const ui = {
			box: make("div", "box", { role: "group" }),
			system: make("select", "input"),
			size: make("select", "input"),
			quantity: make("input", "input", { type: "number", min: 1, max: 99, value: 1 }),
			price: make("div", "price", { role: "status" }),
			total: make("p", "total"),
			note: make("p", "note"),
			cautions: make("ul", "cautions"),
			hold: make("button", "hold", { type: "button" }),
			held: make("p", "held", { role: "status" }),
			error: make("p", "error", { role: "alert" }),
		};
		const fields = make("div", "fields");
		for (const name of ["system", "size", "quantity"]) {
			const label = make("label", "field");
			label.append(this.#text(name), ui[name]);
			fields.append(label);
		}
		ui.price.append(ui.total, ui.note);
		ui.box.append(fields, ui.price, ui.cautions, ui.hold, ui.held, ui.error);
		ui.system.onchange = () => {
			this.#drawSizes(null, ui.size.selectedOptions[0].dataset.at);
			this.#changed();
		};
		ui.size.onchange = ui.quantity.onchange = () => this.#changed();
		ui.hold.onclick = () => this.#hold();
		this.shadowRoot.replaceChildren(ui.box);
		return ui;
	}

	#drawSystems() {
		const { system, size } = this.#ui;
		const known = Object.keys(SCALES).filter((one) => offered(one, this.#listing.bands)[0]);
		const wanted = system.value || this.getAttribute("system");
		system.replaceChildren(...known.map((one) => new Option(one.toUpperCase(), one)));
		system.value = known.includes(wanted) ? wanted : known[0];
		this.#drawSizes(size.value || this.getAttribute("size"));
	}

	/* The sizes of the system; chosen is the one wanted, or the nearest to where one was. */
	#drawSizes(wanted, at) {
		const { system, size } = this.#ui;
		const marks = offered(system.value, this.#listing.bands);
		const options = marks.map(([mark, at]) => {
			const option = new Option(mark.replace(" 1/2", " ½"), mark);
			option.dataset.at = at;
			return option;
		});
		size.replaceChildren(new Option(this.#text("choose"), ""), ...options);
		const far = ([, other]) => Math.abs(other - at);
		if (at) [[wanted]] = marks.toSorted((a, b) => far(a) - far(b));
		size.value = wanted ?? "";
		if (size.selectedIndex < 0) size.value = "";
	}

	#changed() {
		this.#clear();
		if (this.#ui) this.#guarded((signal) => this.#ask(signal));
	}

	/* Something else is chosen, so what is held is not for it. */
	#clear() {
		this.#intention = this.#price = null;
		clearTimeout(this.#end);
		if (!this.#held) return;
		this.#held = null;
		this.#tell("held", "");
		this.#validate();
		this.#say("cleared");
	}

	#chosen() {
		const { system, size, quantity } = this.#ui;
		if (!/^[1-9]\d?$/.test(quantity.value)) throw new Refusal(this.#text("error-quantity"));
		return { system: system.value, size: size.value, quantity: +quantity.value };
	}

	async #ask(signal) {
		clearTimeout(this.#again);
		this.#showRange();
		if (!this.#ui.size.value) return;
		const query = new URLSearchParams({ sku: this.getAttribute("sku"), ...this.#chosen() });
		this.#price = await this.#fetch(`/v1/window/prices?${query}`, { signal });
		this.#showPrice(this.#price);
		this.#askLater();
	}

	#askLater() {
		const again = () => this.#guarded((signal) => this.#ask(signal));
		this.#again = this.#at(this.#price, SOONEST, again);
	}

	#at({ valid_until }, soonest, work) {
		const wait = Math.max(new Date(valid_until) - Date.now(), soonest);
		return setTimeout(work, Math.min(wait, LATEST));
	}

	#showRange() {
		const { bands } = this.#listing;
		const price = this.#money(Math.min(...bands.map((band) => band.price)), this.#listing);
		this.#show(bands[1] ? this.#text("from", { price }) : price);
	}

	#showPrice(price) {
		const money = (amount) => this.#money(amount, price);
		const tax = +price.tax ? (price.tax_included ? "tax-in" : "tax-on") : "tax-none";
		const notes = [
			price.quantity > 1 ? this.#text("each", { price: money(price.unit_price) }) : "",
			this.#text(tax, { tax: money(price.tax) }),
			this.#text(price.availability),
			this.#held ? "" : this.#text("until", { time: this.#time(price.valid_until) }),
		];
		this.#show(money(price.total), notes.join(" ").trim(), price.cautions);
	}

	#show(total, note = "", cautions = []) {
		const ui = this.#ui;
		ui.total.textContent = total;
		ui.note.textContent = note;
		const told = cautions.map(({ text }) => make("li", "", { textContent: text }));
		ui.cautions.replaceChildren(...told);
	}

	#hold() {
		const { hold, size } = this.#ui;
		if (hold.ariaDisabled === "true") return;
		if (size.value) return this.#guarded((signal) => this.#holdChosen(signal));
		size.focus();
		this.#tell("error", this.#text("error-size"));
	}

	async #holdChosen(signal) {
		const { quantity, ...size } = this.#chosen();
		clearTimeout(this.#again);
		this.#intention ??= crypto.randomUUID();
		const asked = this.#fetch("/v1/window/quotes", {
			signal,
			method: "POST",
			body: JSON.stringify({ sku: this.getAttribute("sku"), size, quantity }),
			headers: { "Content-Type": "application/json", "Idempotency-Key": this.#intention },
		});
		const held = await asked.catch((error) => {
			if (this.#price && !signal.aborted) this.#askLater();
			throw error;
		});
		this.#held = held;
		this.#showHeld(held);
		this.#validate();
		this.#end = this.#at(held, 0, () => this.#ended());
		this.#say("held", held);
		if (this.hasAttribute("submit")) this.#internals.form?.requestSubmit();
	}

	#showHeld(held) {
		const total = this.#money(held.total, held);
		const day = { weekday: "long", day: "numeric", month: "long" };
		const time = this.#time(held.valid_until, day);
		const shown = this.#price?.total ?? held.total;
		this.#showPrice({ ...this.#listing, ...this.#price, ...held });
		const moved = shown !== held.total && this.#text("moved", { total: this.#money(shown, held) });
		const text = this.#text("held", { total, time, number: held.number });
		this.#tell("held", moved ? `${text} ${moved}` : text);
	}

	#ended() {
		this.#changed();
		this.#tell("held", this.#text("ended"));
	}

	/* What goes into the form, and whether it may be sent. */
	#validate() {
		const token = this.#held?.token;
		const data = new FormData();
		if (token) data.append(this.getAttribute("name") ?? "token", token);
		this.#internals.setFormValue(data);
		const valueMissing = this.hasAttribute("required") && !token;
		this.#internals.setValidity({ valueMissing }, this.#text("hold"), this.#ui?.hold);
	}

	#busy(busy) {
		if (!this.#ui) return;
		const { box, hold } = this.#ui;
		box.ariaBusy = busy;
		hold.ariaDisabled = busy || !!this.#held;
		hold.textContent = this.#text(busy ? "working" : this.#held ? "done" : "hold");
	}

	#tell(part, text) {
		this.shadowRoot.querySelector(`.${part}`).textContent = text;
	}

	#say(what, detail = null) {
		const told = { detail, bubbles: true, composed: true };
		this.dispatchEvent(new CustomEvent(`ring-price-${what}`, told));
	}
}

if (!customElements.get("ring-price")) customElements.define("ring-price", RingPrice);
