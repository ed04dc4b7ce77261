// What the MCAP project's indexed reader finds in a file: per topic how many messages, and how they begin.
import { readFileSync } from "node:fs";
import { McapIndexedReader } from "@mcap/core";

const data = readFileSync(process.argv[2]);
const readable = {
  size: async () => BigInt(data.length),
  read: async (offset, size) => new Uint8Array(data.subarray(Number(offset), Number(offset + size))),
};
const reader = await McapIndexedReader.Initialize({ readable });
const found = {};
let last = 0n;
let inOrder = true;
for await (const message of reader.readMessages()) {
  const topic = reader.channelsById.get(message.channelId).topic;
  (found[topic] ??= []).push([message.sequence, Buffer.from(message.data).toString("base64")]);
  inOrder &&= message.logTime >= last;
  last = message.logTime;
}
let picked = 0;
for await (const _ of reader.readMessages({ topics: ["strike"] })) picked += 1;
console.log(JSON.stringify({ found, inOrder, picked }));
