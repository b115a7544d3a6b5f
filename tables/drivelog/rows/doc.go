// Package rows reads the rows of a drive log, as fast as the machine can.
//
// A [Text] is the log's bytes: a file, a compressed one, or a stream that was put
// aside. [Text.EachPiece] reads them in pieces of whole lines on several workers and
// hands over what became of each piece, a [Batch], one at a time in the log's order.
// [NewRowParser] makes batches of a log with one row an instant, [LongForm] of one with
// a row for each reading. An [Aligner] turns rows into instants: each column's latest
// reading, and whether it is new.
//
// What it promises: the batches do not depend on the number of workers or the size of
// the pieces; memory does not grow with the log; a row in RFC 4180's quotes gives what
// a plain one gives; each fault is counted with its lines ([Tally]).
//
// What it leaves out: which columns are wanted and what they mean. Nor does it keep
// rows: a batch is good until the next one.
package rows
