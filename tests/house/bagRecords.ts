/** Parts of a bag of ROS 1, as its published format 2.0 lays them out. */
export const u32 = (value: number): Buffer => {
  const out = Buffer.alloc(4);
  out.writeUInt32LE(value);
  return out;
};

/** A field of a record's header: its length, name and value. */
export const field = (name: string, value: Uint8Array): Buffer => {
  const body = Buffer.concat([Buffer.from(`${name}=`), value]);
  return Buffer.concat([u32(body.length), body]);
};

/** A record: its header of fields and its data, each behind its length. */
export const record = (fields: readonly Buffer[], data: Uint8Array): Buffer => {
  const header = Buffer.concat(fields);
  return Buffer.concat([u32(header.length), header, u32(data.length), data]);
};

/** The field that says what a record is. */
export const op = (code: number): Buffer => field("op", Buffer.from([code]));
