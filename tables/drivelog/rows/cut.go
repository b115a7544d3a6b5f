package rows

import (
	"bytes"
	"context"
	"errors"
	"io"
	"slices"
)

// A log is read from its start by whichever worker needs a piece, since one that unpacks or
// decodes cannot be read otherwise, and reading is quick beside parsing. The worker's own
// processor has the piece in its cache then.

// cut waits for a piece that nobody holds, and fills it with the next whole lines; nil
// behind the last, or when the context ends.
func (w *pipeline) cut(ctx context.Context) *piece {
	var p *piece
	select {
	case p = <-w.free:
	case <-ctx.Done():
		return nil
	}
	w.reading.Lock()
	defer w.reading.Unlock()
	if w.ended {
		w.free <- p // for another worker to see the end
		return nil
	}
	p.no, w.cuts = w.cuts, w.cuts+1
	lines, err := w.fill(p)
	w.ended, p.last, p.short = err != nil, err != nil, errors.Is(err, errCutShort)
	if p.err = err; p.short || err == io.EOF || err == io.ErrUnexpectedEOF {
		p.err = nil
	}
	if p.last {
		lines = len(p.buf)
	}
	// What the piece leaves of its last line begins the next one.
	p.text, w.rest = p.buf[:lines], append(w.rest[:0], p.buf[lines:]...)
	return p
}

// fill reads on until a piece has a whole line, and returns the bytes of those that it has.
func (w *pipeline) fill(p *piece) (lines int, err error) {
	p.buf = append(p.buf[:0], w.rest...)
	for lines == 0 && err == nil {
		have, n := len(p.buf), int(w.t.Piece)
		p.buf = slices.Grow(p.buf, n)[:have+n]
		n, err = io.ReadFull(w.text, p.buf[have:])
		p.buf = p.buf[:have+n]
		if lines = bytes.LastIndexByte(p.buf, w.t.D.EOL) + 1; lines == 0 && len(p.buf) > w.t.MaxLine {
			err = lineTooLong(w.t.MaxLine)
		}
	}
	return lines, err
}
