package book

import (
	"context"
	"errors"
	"sync"
	"time"

	"github.com/jackc/pgx/v5/pgconn"

	"phasewright/beside"
)

const (
	lookEvery = 2 * time.Second // for what is new, where no notice came
	newAtOnce = 1000            // events that are looked at in one go
)

// notices tells this program's subscribers what other programs recorded. A notice only says that there is something
// new; what it is is read by number, so that nothing is missed when a notice or the connection was lost.
type notices struct {
	post *postgres
	book *Book
	end  context.CancelFunc
	loop *beside.Work
	last int64 // the number up to which everything was told

	mu  sync.Mutex
	own map[Hash]bool // events of this program, whose subscribers were told by the writer
}

// listen begins where the book stands now.
func listen(ctx context.Context, p *postgres, b *Book) (*notices, error) {
	n := &notices{post: p, book: b, own: map[Hash]bool{}}
	if err := b.read().row(ctx, `SELECT coalesce(max(seq), 0) FROM events`).Scan(&n.last); err != nil {
		return nil, err
	}
	running, end := context.WithCancel(context.Background())
	n.end = end
	n.loop = beside.Start(func() { n.run(running) })
	return n, nil
}

func (n *notices) stop() {
	n.end()
	<-n.loop.Done()
}

// mine notes events that this program is about to commit, theirs those that may have come to nothing.
func (n *notices) mine(heads []Hash) {
	n.mu.Lock()
	defer n.mu.Unlock()
	for _, h := range heads {
		n.own[h] = true
	}
}

func (n *notices) theirs(heads []Hash) {
	n.mu.Lock()
	defer n.mu.Unlock()
	for _, h := range heads {
		delete(n.own, h)
	}
}

// run listens, and looks every now and then all the same. A connection that broke is made again.
func (n *notices) run(ctx context.Context) {
	for ctx.Err() == nil {
		_ = beside.Caught(func() { _ = n.hear(ctx) }) // whatever it was, what is new is told next time
		select {
		case <-ctx.Done():
		case <-time.After(lookEvery / 4):
		}
	}
}

func (n *notices) hear(ctx context.Context) error {
	conn, err := pgconn.ConnectConfig(ctx, n.post.config)
	if err != nil {
		return err
	}
	defer conn.Close(context.WithoutCancel(ctx))
	if _, err := conn.Exec(ctx, `LISTEN `+n.post.space+`_new`).ReadAll(); err != nil {
		return err
	}
	for {
		if err := n.catchUp(ctx); err != nil {
			return err
		}
		wait, cancel := context.WithTimeout(ctx, lookEvery)
		err := conn.WaitForNotification(wait)
		cancel()
		if err != nil && !errors.Is(err, context.DeadlineExceeded) || conn.IsClosed() {
			return err
		}
	}
}

// catchUp tells of the jobs that have new events.
func (n *notices) catchUp(ctx context.Context) error {
	for {
		rows, err := n.book.read().rows(ctx, `SELECT e.seq, e.job, e.version, e.hash, j.status = '`+roomStatus+`'
			FROM events e JOIN jobs j ON j.id = e.job WHERE e.seq > ? ORDER BY e.seq LIMIT ?`, n.last, newAtOnce)
		if err != nil {
			return err
		}
		type heard struct {
			Change
			seq  int64
			hash Hash
		}
		all, err := collect(rows, func(row scanner) (h heard, err error) {
			var hash []byte
			err = row.Scan(&h.seq, &h.Job, &h.Version, &hash, &h.Room)
			copy(h.hash[:], hash)
			return h, err
		})
		if err != nil {
			return err
		}
		var tell []Change
		at := map[string]int{} // where a job stands in tell
		n.mu.Lock()
		for _, h := range all {
			n.last = h.seq
			if n.own[h.hash] {
				delete(n.own, h.hash)
				continue
			}
			if i, known := at[h.Job]; known {
				tell[i] = h.Change
				continue
			}
			at[h.Job] = len(tell)
			tell = append(tell, h.Change)
		}
		n.mu.Unlock()
		for _, c := range tell { // one that breaks takes no other along
			_ = beside.Caught(func() { n.book.hub.send([]Change{c}) })
		}
		if len(all) < newAtOnce {
			return nil
		}
	}
}
