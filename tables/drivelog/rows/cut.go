package rows

import (
	"bytes"
	"context"
	"errors"
	"io"
	"slices"
	"sync/atomic"
)

// errLong ends a piece in which a line has no end within bounds.
var errLong = errors.New("a line is too long")

// freePiece waits for a piece that nobody holds; nil when the context ends.
func (w *pipeline) freePiece(ctx context.Context) *piece {
	select {
	case p := <-w.free:
		p.err, p.last, p.short = nil, false, false
		return p
	case <-ctx.Done():
		return nil
	}
}

// cutPlain cuts a file that can be read anywhere: workers fetch their pieces
// themselves.
func (w *pipeline) cutPlain() (next func(context.Context) *piece) {
	var count atomic.Int64
	return func(ctx context.Context) *piece {
		p := w.freePiece(ctx)
		if p == nil {
			return nil
		}
		no := count.Add(1) - 1
		p.no, p.off = int(no), w.t.D.DataStart+no*w.t.Piece
		if p.off >= w.t.size {
			w.free <- p // for another worker to see the end
			return nil
		}
		return p
	}
}

// fetch reads the lines that begin in a piece: from behind the first line end
// at or after the byte before it, to the end of the line that runs out of it.
func (t *Text) fetch(p *piece) {
	// The line that runs out of the piece mostly ends within so many bytes.
	const slack = 4 << 10
	from, nominal := p.off, min(p.off+t.Piece, t.size)
	if p.off > t.D.DataStart {
		from--
	}
	within := int(nominal - from)
	p.text, p.batch.lines, p.buf = nil, 0, p.buf[:0]
	if p.err = t.more(p, from, within+slack); p.err != nil {
		return
	}
	begin := 0
	if p.off > t.D.DataStart {
		begin = bytes.IndexByte(p.buf[:min(len(p.buf), within)], t.D.EOL) + 1
		if begin == 0 || begin >= within {
			return // a line that began before runs through
		}
	}
	for look := within - 1; ; {
		if i := bytes.IndexByte(p.buf[look:], t.D.EOL); i >= 0 {
			p.text = p.buf[begin : look+i+1]
			p.last = from+int64(look+i+1) >= t.size
			return
		}
		look = len(p.buf)
		switch {
		case from+int64(look) >= t.size:
			p.text, p.last = p.buf[begin:], true
			return
		case look-begin > t.MaxLine+int(t.Piece):
			p.batch.lines = bytes.Count(p.buf[begin:], []byte{t.D.EOL})
			p.err = errLong
			return
		}
		if p.err = t.more(p, from, max(look, slack)); p.err != nil {
			return
		}
	}
}

// more reads up to n bytes behind those that a piece has, which begin at from.
func (t *Text) more(p *piece, from int64, n int) error {
	have := len(p.buf)
	n = int(min(int64(n), t.size-from-int64(have)))
	p.buf = slices.Grow(p.buf, n)[:have+n]
	got, err := t.at.ReadAt(p.buf[have:], from+int64(have))
	p.buf = p.buf[:have+got]
	if err == io.EOF {
		err = nil
	}
	return err
}

// cutStream cuts what can only be read from its start: packed logs and UTF-16.
func (w *pipeline) cutStream(ctx context.Context, cut chan<- *piece) {
	var rest []byte
	t := w.t
	r, err := t.stream(t.D.Enc)
	if err == nil {
		defer r.Close()
		_, err = io.CopyN(io.Discard, r, t.D.DataStart)
	}
	for no := 0; ; no++ {
		p := w.freePiece(ctx)
		if p == nil {
			return
		}
		p.no, p.off = no, -1
		// What the piece before left of its last line begins this one.
		p.buf = append(p.buf[:0], rest...)
		for cut := 0; cut == 0 && err == nil; {
			room := len(p.buf)
			p.buf = append(p.buf, make([]byte, t.Piece)...)
			var n int
			n, err = io.ReadFull(r, p.buf[room:])
			p.buf = p.buf[:room+n]
			cut = bytes.LastIndexByte(p.buf, t.D.EOL) + 1
			if cut == 0 && len(p.buf) > t.MaxLine {
				err = errLong
			}
			if err == nil {
				p.text, rest = p.buf[:cut], append(rest[:0], p.buf[cut:]...)
			}
		}
		if err == nil {
			cut <- p
			continue
		}
		p.text, p.last = p.buf, true
		p.short = errors.Is(err, errCutShort)
		if err != io.EOF && err != io.ErrUnexpectedEOF && !p.short {
			p.err = err
		}
		cut <- p
		return
	}
}
