package recording

import (
	"context"
	"io"
	"slices"
	"sync"

	"phasewright/book"
	"phasewright/waveform"
	"phasewright/web/shelf"
)

const (
	// Recordings whose overview stands ready, each at most about 4 MiB. Others are read again when somebody looks.
	keptWaves   = 3
	wavesAtOnce = 2 // views worked out at the same time, each at most about 2 MiB; others wait
)

// sharedFile is a stored file that is open only while somebody reads it, however many read it at once.
type sharedFile struct {
	book shelf.Book
	sha  book.Hash

	mu    sync.Mutex
	at    io.ReaderAt // nil where it can only be read on
	r     io.ReadSeekCloser
	size  int64
	users int
}

// open opens the file unless it is open; done must follow.
func (f *sharedFile) open(ctx context.Context) error {
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

func (f *sharedFile) done() {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.users--; f.users == 0 {
		f.r.Close()
		f.r, f.at = nil, nil
	}
}

// ReadAt reads while the file is open.
func (f *sharedFile) ReadAt(p []byte, off int64) (int, error) {
	f.mu.Lock()
	at := f.at
	f.mu.Unlock()
	if at == nil {
		return 0, io.ErrClosedPipe
	}
	return at.ReadAt(p, off)
}

// input is the open file for a reader.
func (f *sharedFile) input(name string) waveform.Input {
	if f.at == nil {
		return waveform.Stream(name, f.r, f.size)
	}
	return waveform.File(name, f, f.size)
}

// wave is a recording that can be looked at.
type wave struct {
	*waveform.Result
	file *sharedFile
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

// keep keeps what a reading left to look at, a part of a recording too.
func (k *waves) keep(sha book.Hash, r *waveform.Result, file *sharedFile) {
	if r != nil && r.Overview != nil {
		r.Warnings = nil
		k.put(sha, &wave{r, file})
	}
}

// discard is a sink for edges that nobody wants.
type discard struct{}

func (discard) Begin(waveform.Info) error   { return nil }
func (discard) Edges([]waveform.Edge) error { return nil }

// readWave reads a file again for its overview alone, after a restart or when others took its place. It refuses where
// too many wait.
func (r *Room) readWave(job string, file book.Attachment, device string) error {
	return r.queue.add(job, file, device, func(ctx context.Context) error {
		if r.waves.get(file.SHA256) != nil {
			return nil
		}
		shared := &sharedFile{book: r.Book, sha: file.SHA256}
		if err := shared.open(ctx); err != nil {
			return err
		}
		defer shared.done()
		res, err := waveform.Scan(ctx, shared.input(file.Name), r.options(job, file), discard{})
		if ctx.Err() != nil {
			return ctx.Err()
		}
		r.waves.keep(file.SHA256, res, shared)
		if res != nil && res.Overview != nil {
			return nil // what could be read can be looked at; the recording's own page says what is wrong with it
		}
		return err
	})
}
