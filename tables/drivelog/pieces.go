package drivelog

import (
	"bytes"
	"context"
	"errors"
	"io"

	"calsplice/tables"
)

const pieceSize = 256 << 10

// eachPiece reads a log from its first row, piece by piece, each cut at a line
// end, parses them, and hands the batches over in order with the file line on
// which each begins.
func (l *Log) eachPiece(ctx context.Context, parse func(buf []byte, last bool, b *batch), take func(b *batch, line int) error) error {
	r, err := l.src.stream(l.d.enc)
	if err != nil {
		return err
	}
	defer r.Close()
	if _, err := io.CopyN(io.Discard, r, l.d.dataStart); err != nil && !errors.Is(err, io.EOF) {
		return &tables.Fault{File: l.name, What: err.Error()}
	}
	b := &batch{}
	line := l.d.firstLine
	var buf []byte
	for end := false; !end; {
		if err := ctx.Err(); err != nil {
			return err
		}
		room := len(buf)
		buf = append(buf, make([]byte, pieceSize)...)
		n, err := io.ReadFull(r, buf[room:])
		buf = buf[:room+n]
		var broken error
		switch {
		case errors.Is(err, io.EOF) || err == io.ErrUnexpectedEOF && n < pieceSize:
			end = true
		case err != nil:
			end, broken = true, err
		}
		cut := len(buf)
		if !end {
			if cut = bytes.LastIndexByte(buf, l.d.eol) + 1; cut == 0 {
				if len(buf) > l.opt.maxLine() {
					return lineTooLong(l.name, line, l.opt.maxLine())
				}
				continue
			}
		}
		parse(buf[:cut], end, b)
		if b.err != nil {
			return b.err
		}
		if err := take(b, line); err != nil {
			return err
		}
		line += b.lines
		if broken != nil {
			return &tables.Fault{File: l.name, Line: line, What: packingNames[l.src.pack] + " stream: " + broken.Error()}
		}
		buf = append(buf[:0], buf[cut:]...)
	}
	return nil
}
