package web

import (
	"context"
	"io"
	"slices"
	"sync"

	"phasewright/book"
	"phasewright/shaft"
	"phasewright/waveform"
)

const (
	keptWaves   = 3 // recordings whose overview stands ready, each at most about 4 MiB; others are read again when somebody looks
	wavesAtOnce = 2 // views worked out at the same time, each at most about 2 MiB; others wait
)

// lentFile is a stored file that is open only while somebody reads it, however many read at once.
type lentFile struct {
	book Book
	sha  book.Hash

	mu    sync.Mutex
	at    io.ReaderAt // nil where it can only be read on
	r     io.ReadSeekCloser
	size  int64
	users int
}

// open opens the file unless it is open; done must follow.
func (f *lentFile) open(ctx context.Context) error {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.users == 0 {
		r, size, err := f.book.OpenAttachment(ctx, f.sha)
		if err != nil {
			return err
		}
		f.r, f.size = r, size
		f.at, _ = r.(io.ReaderAt)
	}
	f.users++
	return nil
}

func (f *lentFile) done() {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.users--; f.users == 0 {
		f.r.Close()
		f.r, f.at = nil, nil
	}
}

// ReadAt reads while the file is open.
func (f *lentFile) ReadAt(p []byte, off int64) (int, error) {
	f.mu.Lock()
	at := f.at
	f.mu.Unlock()
	if at == nil {
		return 0, io.ErrClosedPipe
	}
	return at.ReadAt(p, off)
}

// input is the open file for a reader.
func (f *lentFile) input(name string) waveform.Input {
	if f.at == nil {
		return waveform.Stream(name, f.r, f.size)
	}
	return waveform.File(name, f, f.size)
}

// keeping is a recording whose reader's own result is kept beside what the capture room makes of it.
type keeping struct {
	shaft.Recording
	result *waveform.Result
}

func (k *keeping) Scan(ctx context.Context, sink waveform.Sink) (*waveform.Result, error) {
	r, err := k.Recording.Scan(ctx, sink)
	k.result = r
	return r, err
}

// wave is a recording that can be looked at.
type wave struct {
	*waveform.Result
	file *lentFile
}

// look is a view of some channels; the file is open meanwhile.
func (w *wave) look(ctx context.Context, channels []int, from, to float64, columns int) ([]waveform.Look, error) {
	if err := w.file.open(ctx); err != nil {
		return nil, err
	}
	defer w.file.done()
	return w.Overview.View(ctx, channels, waveform.Second(from), waveform.Second(to), columns)
}

// waves keeps the overviews of the recordings that were looked at last.
type waves struct {
	mu    sync.Mutex
	kept  map[book.Hash]*wave
	order []book.Hash // the one not looked at for longest first
	turn  chan struct{}
}

func newWaves() *waves {
	return &waves{kept: map[book.Hash]*wave{}, turn: make(chan struct{}, wavesAtOnce)}
}

// get gives a recording, nil where it is not kept.
func (k *waves) get(sha book.Hash) *wave {
	k.mu.Lock()
	defer k.mu.Unlock()
	w := k.kept[sha]
	if w != nil {
		k.touch(sha)
	}
	return w
}

func (k *waves) touch(sha book.Hash) {
	k.order = append(slices.DeleteFunc(k.order, func(h book.Hash) bool { return h == sha }), sha)
}

func (k *waves) put(sha book.Hash, w *wave) {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.kept[sha] = w
	k.touch(sha)
	for len(k.order) > keptWaves {
		delete(k.kept, k.order[0])
		k.order = k.order[1:]
	}
}

// keepWave keeps what a reading left to look at, a part of a recording too.
func (s *Server) keepWave(sha book.Hash, r *waveform.Result, file *lentFile) {
	if r == nil || r.Overview == nil {
		return
	}
	r.Warnings = nil
	s.waves.put(sha, &wave{r, file})
}

// nowhere is a sink for edges that nobody wants.
type nowhere struct{}

func (nowhere) Begin(waveform.Info) error   { return nil }
func (nowhere) Edges([]waveform.Edge) error { return nil }

// buildWave reads a file again for its overview alone, after a restart or when others took its place. False: too many wait, ask again later.
func (s *Server) buildWave(job string, file book.Attachment, device string) bool {
	return nil == s.captures.add(job, file, device, func(ctx context.Context) error {
		if s.waves.get(file.SHA256) != nil {
			return nil
		}
		lent := &lentFile{book: s.Book, sha: file.SHA256}
		if err := lent.open(ctx); err != nil {
			return err
		}
		defer lent.done()
		r, err := waveform.Scan(ctx, lent.input(file.Name), s.readingOptions(job, file), nowhere{})
		if ctx.Err() != nil {
			return ctx.Err()
		}
		s.keepWave(file.SHA256, r, lent)
		if r != nil && r.Overview != nil {
			return nil // what could be read can be looked at; the capture's own page says what is wrong with it
		}
		return err
	})
}
