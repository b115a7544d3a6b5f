// What DuckDB answers to a query of files in a folder, an independent judge:
//   node query.mjs FOLDER SQL
// prints JSON: a list of rows, each with its values by column.
import { DuckDBInstance } from '@duckdb/node-api'

const [folder, sql] = process.argv.slice(2)
const db = await DuckDBInstance.create(':memory:')
const con = await db.connect()
await con.run(`set file_search_path = '${folder.replaceAll("'", "''")}'`)
console.log(JSON.stringify(await (await con.runAndReadAll(sql)).getRowObjectsJson()))
