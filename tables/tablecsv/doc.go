// Package tablecsv is the CSV spelling of a document: what a spreadsheet opens
// and a person can type. It is lossless: a document written here and read back
// is equal.
//
// A document is blocks of lines, each led by a keyword:
//
//	calsplice,1,calibration              or calsplice,1,cells
//	name,TEXT     notes,TEXT     x-NAME,JSON
//	engine,NAME,VALUE[,UNIT[,RELATIVE TO]]     engine,x-NAME,JSON
//	source,NAME,SHA256,ROWS,KEPT[,REASON,COUNT]…     state,KEY,JSON     (cells only)
//
//	table,ID
//	title,TEXT   role,ROLE   unit,UNIT   resolution,STEP   limits,LOW,HIGH   notes,TEXT   x-NAME,JSON
//	x,QUANTITY,UNIT[,x-NAME,JSON]…
//	y,QUANTITY,UNIT[,x-NAME,JSON]…
//	,POINT OF X,…
//	POINT OF Y,VALUE,…                   a curve has one such line, with nothing before the values
//
//	end
//
// A line that begins with "#" is a remark, which nobody reads, and so is a field that
// stands behind those of its line. A scalar has one line "value,NUMBER" instead of
// axes. A blank line ends a table. Where a document has no last line "end" it may have been cut: it is
// read, with a caution.
//
// Quoting is RFC 4180's, and line ends inside quotes are kept as they are.
// Semicolons and tabs as delimiters, decimal commas (in quotes where commas
// stand between fields), CRLF, a byte-order mark and UTF-16 are read; comma, LF
// and no mark are written. Text
// that a spreadsheet would run as a formula stands behind an apostrophe (see
// strictcsv.Safe); numbers never do.
//
// [WriteLong] writes a row a cell for data tools. It carries no units, puts an
// apostrophe before an id that begins with a hyphen as all CSV here does, and is
// not read back.
package tablecsv
