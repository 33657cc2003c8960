import { crc32, deflateRawSync } from "node:zlib";

/** A zip file, the sizes of its members as stated (APPNOTE.TXT of the zip format, sections 4.3.7, 4.3.12, 4.3.16). */
export function zipOf(...members: { name: string; content: Buffer; claims?: number }[]): Buffer {
  const locals: Buffer[] = [];
  const centrals: Buffer[] = [];
  let at = 0;
  for (const { name, content, claims } of members) {
    const packed = deflateRawSync(content, { level: 1 });
    const label = Buffer.from(name);
    const common = Buffer.alloc(26);
    common.writeUInt16LE(20, 0);
    common.writeUInt16LE(8, 4);
    common.writeUInt32LE(crc32(content), 10);
    common.writeUInt32LE(packed.length, 14);
    common.writeUInt32LE(claims ?? content.length, 18);
    common.writeUInt16LE(label.length, 22);
    const place = Buffer.alloc(14);
    place.writeUInt32LE(at, 10);
    const local = Buffer.concat([Buffer.from("PK\u0003\u0004"), common, label, packed]);
    locals.push(local);
    centrals.push(Buffer.concat([Buffer.from("PK\u0001\u0002"), Buffer.from([20, 0]), common, place, label]));
    at += local.length;
  }
  const central = Buffer.concat(centrals);
  const end = Buffer.alloc(22);
  end.write("PK\u0005\u0006");
  end.writeUInt16LE(members.length, 8);
  end.writeUInt16LE(members.length, 10);
  end.writeUInt32LE(central.length, 12);
  end.writeUInt32LE(at, 16);
  return Buffer.concat([...locals, central, end]);
}
