// What DuckDB's sniffer reads of drive logs, an independent judge:
//   node sniff.mjs LOG.csv...
// prints JSON: by file and header, readings, least, greatest and mean of each
// column of numbers.
import { DuckDBInstance } from '@duckdb/node-api'

const db = await DuckDBInstance.create(':memory:')
const con = await db.connect()
const out = {}
for (const file of process.argv.slice(2)) {
  const from = `read_csv('${file}', null_padding = true, nullstr = ['', 'NaN'])`
  const columns = await (await con.runAndReadAll(`describe select * from ${from}`)).getRows()
  out[file] = {}
  for (const [name, type] of columns) {
    if (!/INT|DOUBLE|DECIMAL/.test(type)) continue
    const q = `"${name.replaceAll('"', '""')}"`
    const [[n, low, high, mean]] = await (await con.runAndReadAll(
      `select count(${q})::double, min(${q})::double, max(${q})::double, avg(${q}::double) from ${from}`)).getRows()
    if (n > 0) out[file][name] = { n, low, high, mean }
  }
}
console.log(JSON.stringify(out))
