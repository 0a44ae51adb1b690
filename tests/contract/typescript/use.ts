// What a shop does with types that were generated from the description: checked by the
// compiler first, then run against a server, whose address and keys it is started with.

import createClient from "openapi-fetch";
import type { components, paths } from "./schema.js";

declare const process: { argv: string[] };

const [, , address, benchKey, shopKey, windowKey] = process.argv;

function client(key: string | undefined) {
  const headers = { Authorization: `Bearer ${key}` };
  return createClient<paths>({ baseUrl: address ?? "", headers });
}

function got<T>(answer: { data?: T; error?: unknown }): T {
  if (answer.data === undefined) throw new Error(JSON.stringify(answer.error));
  return answer.data;
}

function check(holds: boolean, said: string): void {
  if (!holds) throw new Error(said);
}

const bench = client(benchKey);
const shop = client(shopKey);
const browser = client(windowKey);
const ring: components["schemas"]["EstimateBody"] = {
  coin: "at_50s_1959_1973",
  size: { system: "us", size: "10" },
  quantity: 2,
};

const estimate = got(await bench.POST("/v1/estimates", { body: ring }));
const unit: string = estimate.price.unit;
// @ts-expect-error: amounts are texts
const amount: number = estimate.price.unit;
// @ts-expect-error: there is no such member
check(estimate.price.unitt === undefined, "no such member");
// @ts-expect-error: a size is needed
const sizeless: components["schemas"]["EstimateBody"] = { coin: "at_50s_1959_1973" };
check(amount !== undefined && sizeless.coin === ring.coin, "as they are written");

const made = await bench.POST("/v1/quotes", {
  params: { header: { "Idempotency-Key": "typescript-client-1" } },
  body: { lines: [ring] },
});
const quote = got(made);
check(quote.lines[0]?.price.unit === unit, "a quote is at the price of its estimate");
const page = got(await bench.GET("/v1/quotes"));
check(page.quotes.length === 1 && page.quotes[0]?.id === quote.id, "one quote");

const accept = {
  params: {
    path: { quote_id: quote.id },
    header: { "If-Match": made.response.headers.get("ETag") ?? "" },
  },
};
const sheet = got(await shop.POST("/v1/quotes/{quote_id}/accept", accept));
check(sheet.total === quote.total, "the sheet tells the price that was promised");
const again = await shop.POST("/v1/quotes/{quote_id}/accept", accept);
check(again.error?.status === again.response.status, "a refusal is a problem");
check(again.response.status === 412, "a quote is accepted once");

const shelf = got(await shop.GET("/v1/listings"));
check(shelf.listings.length === 0, "nothing is in the shop yet");
const asked = { params: { query: { system: "iso", size: "60" } } } as const;
const size = got(await browser.GET("/v1/ring-sizes", asked));
check(Number(size.inside_circumference_mm) === 60, "a size of ISO 8653");
console.log("done");
