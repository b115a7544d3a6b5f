package rows

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"sync/atomic"

	"calsplice/tables"
	"calsplice/tables/drivelog/dialect"

	"github.com/klauspost/compress/gzip"
	"github.com/klauspost/compress/zstd"
	"golang.org/x/text/transform"
)

// packing is how a log is compressed.
type packing int

const (
	plain packing = iota
	gzipped
	zstandard
)

var packingNames = [...]string{"plain", "gzip", "zstd"}

// source is a log's bytes: a file, or a stream that was put aside so that it
// can be read more than once.
type source struct {
	name string
	at   io.ReaderAt
	size int64
	pack packing
	file *os.File // to close; nil for bytes in memory
	temp string   // to remove on closing; "" where nothing is left to remove
}

const keepInMemory = 8 << 20 // a stream up to this size is not put on the disk

// Open opens a log by its path, "-" for standard input, which is put aside so that
// it can be read more than once.
func (t *Text) Open(ctx context.Context, path string, stdin io.Reader) error {
	src, err := openSource(ctx, path, stdin)
	if err != nil && src != nil {
		src.Close()
	}
	t.source = src
	return err
}

// openSource opens a file, or puts aside what cannot be read twice: a pipe or a
// device.
func openSource(ctx context.Context, path string, stdin io.Reader) (*source, error) {
	if path == "-" {
		return putAside(ctx, stdin)
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, plainPathError(path, err)
	}
	info, err := f.Stat()
	switch {
	case err != nil:
	case info.IsDir():
		err = &tables.Fault{File: path, What: "is a folder, not a drive log"}
	case !info.Mode().IsRegular():
		s, err := putAside(ctx, f)
		f.Close()
		if s != nil {
			s.name = path
		}
		return s, err
	}
	if err != nil {
		f.Close()
		return nil, err
	}
	s := &source{name: path, at: f, size: info.Size(), file: f}
	return s, s.detectPacking()
}

// plainPathError says in plain words why a path cannot be opened.
func plainPathError(path string, err error) error {
	var pe *os.PathError
	switch {
	case errors.Is(err, os.ErrNotExist):
		return &tables.Fault{File: path, What: "no such file or folder"}
	case errors.As(err, &pe):
		return &tables.Fault{File: path, What: pe.Err.Error()}
	}
	return &tables.Fault{File: path, What: err.Error()}
}

// putAside is spool until the context ends: a read from a terminal or a pipe
// may wait for ever, and is left behind then.
func putAside(ctx context.Context, r io.Reader) (*source, error) {
	var s *source
	var err error
	done := make(chan struct{})
	go func() {
		defer close(done)
		s, err = spool(r)
	}()
	select {
	case <-done:
		return s, err
	case <-ctx.Done():
		go func() { // what comes late is let go of
			if <-done; s != nil {
				s.Close()
			}
		}()
		return nil, ctx.Err()
	}
}

// spool puts a stream aside: small ones in memory, others in a temporary file
// that has no name where the system allows that.
func spool(r io.Reader) (*source, error) {
	if r == nil {
		return nil, &tables.Fault{File: "-", What: "there is no standard input"}
	}
	// Standard input that is a file from its start can be read again as it is.
	if f, ok := r.(*os.File); ok {
		info, err := f.Stat()
		if at, e := f.Seek(0, io.SeekCurrent); err == nil && e == nil && at == 0 && info.Mode().IsRegular() {
			s := &source{name: "-", at: f, size: info.Size()}
			return s, s.detectPacking()
		}
	}
	s := &source{name: "-"}
	var head bytes.Buffer
	n, err := io.CopyN(&head, r, keepInMemory)
	if err == io.EOF {
		s.at, s.size = bytes.NewReader(head.Bytes()), n
		return s, s.detectPacking()
	}
	if err != nil {
		return nil, &tables.Fault{File: "-", What: err.Error()}
	}
	f, err := os.CreateTemp("", "calsplice-log-*")
	if err != nil {
		return nil, err
	}
	s.file, s.at = f, f
	// Without a name, the file goes with the program, however that ends.
	if os.Remove(f.Name()) != nil {
		s.temp = f.Name() // Windows keeps the name of an open file
	}
	if _, err = f.Write(head.Bytes()); err == nil {
		n, err = io.Copy(f, r)
		s.size = int64(head.Len()) + n
	}
	if err != nil {
		s.Close()
		return nil, &tables.Fault{File: "-", What: err.Error()}
	}
	return s, s.detectPacking()
}

// Close lets go of the file, and of what was put aside.
func (s *source) Close() error {
	var err error
	if s.file != nil {
		err = s.file.Close()
	}
	if s.temp != "" {
		err = errors.Join(err, os.Remove(s.temp))
	}
	return err
}

// detectPacking knows compression by its first bytes, not by a name.
func (s *source) detectPacking() error {
	var magic [4]byte
	n, err := s.at.ReadAt(magic[:], 0)
	if err != nil && err != io.EOF {
		return plainPathError(s.name, err)
	}
	switch m := magic[:n]; {
	case bytes.HasPrefix(m, []byte{0x1f, 0x8b}):
		s.pack = gzipped
	case bytes.Equal(m, []byte{0x28, 0xb5, 0x2f, 0xfd}):
		s.pack = zstandard
	}
	return nil
}

// stream opens the log's text from its start: unpacked, and as UTF-8 where it
// is UTF-16; done lets go of it. It adds up the bytes of the file that were read.
func (s *source) stream(enc dialect.Encoding, read *atomic.Int64) (r io.Reader, done func(), err error) {
	r, done = &counted{io.NewSectionReader(s.at, 0, s.size), read}, func() {}
	switch s.pack {
	case gzipped:
		z, err := gzip.NewReader(r)
		if err != nil {
			return nil, nil, &tables.Fault{File: s.name, What: "the gzip stream is broken at its start: " + err.Error()}
		}
		r, done = z, func() { z.Close() }
	case zstandard:
		// One goroutine and little memory: the workers behind it are what takes the time,
		// and the window bounds what a hostile frame can ask for.
		z, err := zstd.NewReader(r, zstd.WithDecoderConcurrency(1), zstd.WithDecoderLowmem(true),
			zstd.WithDecoderMaxWindow(32<<20))
		if err != nil {
			return nil, nil, &tables.Fault{File: s.name, What: "the zstd stream is broken at its start: " + err.Error()}
		}
		r, done = z, z.Close
	}
	if s.pack != plain {
		r = &unpacked{r: r, name: packingNames[s.pack], packed: s.size}
	}
	if enc.Wide() {
		r = transform.NewReader(r, enc.Decoder())
	}
	return r, done, nil
}

// counted counts the bytes of the file that were read, to show how far a packed log
// is: how long it will be unpacked, nobody knows.
type counted struct {
	r io.Reader
	n *atomic.Int64
}

// Read counts what it reads.
func (c *counted) Read(p []byte) (int, error) {
	n, err := c.r.Read(p)
	c.n.Add(int64(n))
	return n, err
}

// unpacked stops at what is no log but a bomb: past 64 MB, a log that packs to
// less than a 500th of its text does not exist.
type unpacked struct {
	r             io.Reader
	name          string
	packed, given int64
}

// Read fails where there is too much.
func (u *unpacked) Read(p []byte) (int, error) {
	n, err := u.r.Read(p)
	u.given += int64(n)
	switch {
	case errors.Is(err, io.ErrUnexpectedEOF):
		err = errCutShort
	case u.given > 64<<20 && u.given/500 > u.packed:
		err = errors.New("it unpacks to more than 500 times its size: no drive log does")
	case err != nil && err != io.EOF: // some name themselves
		err = errors.New(strings.TrimPrefix(err.Error(), u.name+": "))
	}
	if err != nil && err != io.EOF {
		err = fmt.Errorf("%s stream: %w", u.name, err)
	}
	return n, err
}

// errCutShort is where a packed stream stops in the middle, as after a flat battery:
// what there is can be read.
var errCutShort = errors.New("it ends early")

const (
	smallHead = 256 << 10
	largeHead = 4 << 20
)

// Head is the log's beginning, more of it where lines are long. Its encoding is
// detected unless a person names it.
func (t *Text) Head(encodingAsked string) (*dialect.Head, error) {
	raw, atEnd, err := t.beginning(dialect.Utf8Text, smallHead)
	switch {
	case err != nil:
		return nil, err
	case len(raw) == 0:
		return nil, errors.New("the log is empty")
	}
	enc, mark, why, err := dialect.DetectEncoding(raw)
	if encodingAsked != "" {
		enc, why, err = dialect.EncodingOf(encodingAsked), "as told", nil
	}
	if err != nil {
		return nil, err
	}
	h := &dialect.Head{Text: raw, Enc: enc, Mark: mark, AtEnd: atEnd, Why: []string{fmt.Sprintf("encoding %s: %s", enc, why)}}
	if t.pack != plain {
		h.Why = append(h.Why, "compressed by "+packingNames[t.pack])
	}
	if enc.Wide() {
		h.Mark = min(mark, 1) * 3 // decoded, the mark is U+FEFF
		if h.Text, h.AtEnd, err = t.beginning(enc, smallHead); err != nil {
			return nil, err
		}
	}
	if lines := bytes.Count(h.Text, []byte{'\n'}) + bytes.Count(h.Text, []byte{'\r'}); lines < 50 && !h.AtEnd {
		if h.Text, h.AtEnd, err = t.beginning(enc, min(largeHead, t.MaxLine)); err != nil {
			return nil, err
		}
	}
	h.Text = h.Text[min(h.Mark, len(h.Text)):]
	return h, nil
}

// beginning reads up to n bytes of the log's text.
func (s *source) beginning(enc dialect.Encoding, n int) (b []byte, atEnd bool, err error) {
	r, done, err := s.stream(enc, new(atomic.Int64))
	if err != nil {
		return nil, false, err
	}
	defer done()
	head := bytes.NewBuffer(make([]byte, 0, n+1+bytes.MinRead))
	_, err = head.ReadFrom(io.LimitReader(r, int64(n)+1))
	atEnd, b = head.Len() <= n, head.Next(n)
	switch {
	case err == nil:
	case errors.Is(err, errCutShort) && len(b) > 0: // cut short: what there is may still be read
		err, atEnd = nil, true
	default:
		err = &tables.Fault{File: s.name, What: err.Error()}
	}
	return b, atEnd, err
}
