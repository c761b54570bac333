package recording

import (
	"context"
	"encoding/json"
	"sync"
	"time"

	"phasewright/beside"
	"phasewright/book"
	"phasewright/shaft"
	"phasewright/web/page"
)

const (
	claimLife  = 30 * time.Second // without a word, the server that has a recording counts as dead
	claimEvery = 8 * time.Second  // how often it says a word, and looks for those of dead ones
	claimTime  = 5 * time.Second  // to wait for the database
)

// claims lets one of several servers on a book read a recording, and another go on when that one died: it begins anew.
// All that the reading needs stands in the name of the claim.
type claims struct {
	room *Room
	end  context.CancelFunc
	loop *beside.Work

	mu  sync.Mutex
	own map[string]string // claims by task
}

// asked is who wants a recording to be read, and with which roles of its channels.
type asked struct {
	Who    string                `json:"who"`
	Device string                `json:"device,omitempty"`
	Roles  map[string]shaft.Role `json:"roles,omitempty"`
}

func startClaims(r *Room) *claims {
	ctx, end := context.WithCancel(context.Background())
	c := &claims{room: r, end: end, own: map[string]string{}}
	r.queue.over = c.over
	c.loop = beside.Start(func() {
		for ctx.Err() == nil {
			if broken := beside.Caught(func() { c.look(ctx) }); broken != "" {
				r.Log.Error("looking for recordings of other servers broke down", "err", broken)
			}
			select {
			case <-ctx.Done():
			case <-time.After(claimEvery):
			}
		}
	})
	return c
}

// stop leaves the claims of what was not finished, so that another server takes it over.
func (c *claims) stop() {
	if c != nil {
		c.end()
		<-c.loop.Done()
	}
}

func claimOf(job string, sha book.Hash) string { return "reading " + job + " " + sha.String() + " " }

// take claims a recording for this server; false means that another one reads it.
func (c *claims) take(by *page.Session, job string, sha book.Hash, roles map[string]shaft.Role) (bool, error) {
	if c == nil {
		return true, nil
	}
	ctx, cancel := context.WithTimeout(context.Background(), claimTime)
	defer cancel()
	all, err := c.room.Book.Claims(ctx, claimOf(job, sha))
	if err != nil {
		return false, err
	}
	for _, one := range all { // as another server was asked
		if !one.Over && !c.has(one.Work) {
			return false, nil
		}
	}
	what, err := json.Marshal(asked{by.Who, by.Device, roles})
	if err != nil {
		return false, err
	}
	return c.claim(ctx, job, sha, claimOf(job, sha)+string(what))
}

func (c *claims) has(work string) bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	for _, own := range c.own {
		if own == work {
			return true
		}
	}
	return false
}

func (c *claims) claim(ctx context.Context, job string, sha book.Hash, work string) (bool, error) {
	mine, err := c.room.Book.Claim(ctx, work, claimLife)
	if mine {
		c.mu.Lock()
		defer c.mu.Unlock()
		c.own[taskID(job, sha)] = work
	}
	return mine, err
}

// over lets a claim go whose task has ended.
func (c *claims) over(id string) {
	c.mu.Lock()
	work, own := c.own[id]
	delete(c.own, id)
	c.mu.Unlock()
	if own {
		ctx, cancel := context.WithTimeout(context.Background(), claimTime)
		defer cancel()
		if err := c.room.Book.Unclaim(ctx, work); err != nil {
			c.room.Log.Warn("a claim stays until its time is over", "claim", work, "err", err)
		}
	}
}

// elsewhere reports whether another server reads a recording.
func (c *claims) elsewhere(ctx context.Context, job string, sha book.Hash) bool {
	if c == nil {
		return false
	}
	all, err := c.room.Book.Claims(ctx, claimOf(job, sha))
	return err == nil && len(all) > 0 && !all[0].Over && !c.has(all[0].Work)
}

// look lengthens the own claims and takes over those whose server was silent for too long.
func (c *claims) look(ctx context.Context) {
	ctx, cancel := context.WithTimeout(ctx, claimTime)
	defer cancel()
	c.mu.Lock()
	var own []string
	for _, work := range c.own {
		own = append(own, work)
	}
	c.mu.Unlock()
	for _, work := range own {
		_, _ = c.room.Book.Claim(ctx, work, claimLife) // tried again soon
	}
	all, err := c.room.Book.Claims(ctx, "reading ")
	if err != nil {
		return
	}
	for _, one := range all {
		if one.Over && !c.has(one.Work) {
			if err := c.takeOver(ctx, one.Work); err != nil {
				c.room.Log.Warn("a recording of another server cannot be taken over", "claim", one.Work, "err", err)
			}
		}
	}
}

// takeOver reads a recording that another server was to read.
func (c *claims) takeOver(ctx context.Context, work string) error {
	var what asked
	const head = len("reading ") + 16 + 1 + 64 + 1 // job and hash, with a space behind each
	job, text, then := work[len("reading "):len("reading ")+16], work[head-65:head-1], work[head:]
	sha, err := book.ParseHash(text)
	if err == nil {
		err = json.Unmarshal([]byte(then), &what)
	}
	if err != nil {
		return err
	}
	mine, err := c.claim(ctx, job, sha, work)
	if err != nil || !mine {
		return err
	}
	j, err := c.room.Job(ctx, job)
	if err != nil {
		return err
	}
	files, err := c.room.Book.Attachments(ctx, job)
	if err != nil {
		return err
	}
	for _, f := range files {
		if f.SHA256 == sha && f.Discarded.IsZero() && j.Captures[sha] == nil {
			return c.room.readNow(&page.Session{Who: what.Who, Device: what.Device}, job, j.Card, f, what.Roles)
		}
	}
	c.over(taskID(job, sha)) // it is read, or gone
	return nil
}
