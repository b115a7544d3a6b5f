package main

import (
	"sync"
	"time"

	"github.com/schollz/progressbar/v3"

	"calsplice/cmd/calsplice/text"
)

// progress draws a bar with rate and remaining time on a terminal's standard
// error for reads that take long; nil where there is no terminal.
func (in *input) progress() func() func(done, size int64) {
	f, _ := text.Terminal(in.stderr)
	if f == nil {
		return nil
	}
	const worth = 32 << 20 // bytes: less is read before a bar can be seen
	var bar *progressbar.ProgressBar
	var begun time.Time
	m := &meter{draw: func(done, size int64) {
		switch {
		case bar == nil && size < worth:
			return
		case bar == nil:
			begun = time.Now()
			bar = progressbar.NewOptions64(size, progressbar.OptionSetWriter(f), progressbar.OptionShowBytes(true),
				progressbar.OptionClearOnFinish(), progressbar.OptionSetDescription("reading"), progressbar.OptionThrottle(100*time.Millisecond))
		case size != bar.GetMax64():
			bar.ChangeMax64(size)
		}
		// What was read before the bar began would make its first rate absurd.
		if time.Since(begun) < time.Second && done < size {
			return
		}
		bar.Set64(done)
		if done >= size {
			bar = nil
		}
	}}
	return m.reading
}

// meter adds up how far several logs are read that are read at one time; each
// counts from when it begins, and again when it is read again.
type meter struct {
	mu         sync.Mutex
	done, size int64
	draw       func(done, size int64)
}

// reading is one log being read, once.
func (m *meter) reading() func(done, size int64) {
	var last int64
	begun := false
	return func(done, size int64) {
		m.mu.Lock()
		defer m.mu.Unlock()
		if !begun {
			begun = true
			m.size += size
		}
		m.done += done - last
		last = done
		m.draw(m.done, m.size)
		if m.done >= m.size {
			m.done, m.size = 0, 0
		}
	}
}
