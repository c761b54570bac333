package web

import (
	"context"
	"sync"

	"phasewright/record"
)

// job is what a job's events come to, with the drawings that its pages show. It is never changed after it was made.
type job struct {
	*record.Job
	drawn *drawn // nil without a card that can be used
}

// head names the job on its pages.
func (j *job) head() *jobHead {
	about := j.Engine
	if about == "" {
		about = j.Shop
	}
	return &jobHead{ID: j.ID, Name: j.Name, Engine: about, Away: j.Archived, Configuration: j.Configuration()}
}

// cachedJobs bounds how many jobs are kept worked out.
const cachedJobs = 64

// jobCache keeps jobs worked out, so that a page of a job with a thousand events costs only the new ones.
type jobCache struct {
	book Book
	mu   sync.Mutex
	jobs map[string]*job
}

func newJobCache(b Book) *jobCache { return &jobCache{book: b, jobs: map[string]*job{}} }

// get gives a job as the book has it now.
func (c *jobCache) get(ctx context.Context, id string) (*job, error) {
	line, err := c.book.Job(ctx, id)
	if err != nil {
		return nil, err
	}
	c.mu.Lock()
	have := c.jobs[id]
	c.mu.Unlock()
	if have == nil {
		have = &job{Job: &record.Job{}}
	}
	if have.Version == line.Version {
		return have, nil
	}
	events, err := c.book.Events(ctx, id, have.Version)
	if err != nil {
		return nil, err
	}
	fresh := &job{Job: have.Fold(line, events)}
	fresh.drawn = newDrawn(fresh, have)
	c.mu.Lock()
	defer c.mu.Unlock()
	if now := c.jobs[id]; now == nil || now.Version < fresh.Version {
		for k := range c.jobs {
			if len(c.jobs) < cachedJobs {
				break
			}
			delete(c.jobs, k)
		}
		c.jobs[id] = fresh
	}
	return fresh, nil
}
