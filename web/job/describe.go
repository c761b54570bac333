package job

import (
	"phasewright/book"
	"phasewright/record"
	"phasewright/web/page"
	"phasewright/web/shelf"
)

// namesOf are the fields of a card that are the job's own too: those of the job count.
func namesOf(j *shelf.Job) map[string]string {
	return map[string]string{"job.name": j.Name, "job.owner": j.Owner, "job.shop": j.Shop}
}

// renamed is what a card that is about to be saved corrects of the job: the names in it that are neither the job's own
// nor those of the card before, which may be older.
func renamed(j *shelf.Job, text string) map[string]string {
	card, _ := record.ParseCard(text)
	if card == nil {
		return nil
	}
	before, _ := record.ParseCard(j.YAML)
	out := map[string]string{}
	add := func(key, now, job, was string) {
		if now != "" && now != job && (before == nil || now != was) {
			out[key] = now
		}
	}
	var was struct{ name, owner, shop string }
	if before != nil {
		was.name, was.owner, was.shop = before.Job.Name, before.Job.Owner, before.Job.Shop
	}
	add("name", page.CleanName(card.Job.Name), j.Name, page.CleanName(was.name))
	add("owner", page.CleanName(card.Job.Owner), j.Owner, page.CleanName(was.owner))
	add("shop", page.CleanName(card.Job.Shop), j.Shop, page.CleanName(was.shop))
	return out
}

// describePost corrects what the job is called, whose it is, which engine, where it stands, and in whose hands. What
// was proven stays proven: none of it is of the engine's timing.
func (r *Room) describePost(q *page.Request, j *shelf.Job) error {
	changed := map[string]string{}
	for key, was := range map[string]string{"name": j.Name, "owner": j.Owner, "contact": j.Contact,
		"engine": j.Engine, "bay": j.Bay, "person": j.Person} {
		if now := page.CleanName(q.PostForm.Get(key)); q.PostForm.Has(key) && now != was {
			changed[key] = now
		}
	}
	if name, ok := changed["name"]; ok && name == "" {
		return page.Refuse("A job needs a name.", "Write what the engine is called in the shop, then save.")
	}
	if len(changed) == 0 {
		return q.Done(j.Path(""))
	}
	if err := r.Append(q, j.ID, book.KindJobDescribed, q.PostForm.Get("key"), changed); err != nil {
		return err
	}
	return q.Done(j.Path(""))
}

// waits are what jobs wait for, most of the time.
var waits = []string{"the customer", "a part", "machining", "advice"}

// waitingPost notes for what the job waits, or that it does not any more.
func (r *Room) waitingPost(q *page.Request, j *shelf.Job) error {
	what := page.CleanName(q.PostForm.Get("for"))
	if what == j.Waiting {
		return q.Done(j.Path(""))
	}
	if err := r.Append(q, j.ID, book.KindJobDescribed, q.PostForm.Get("key"),
		map[string]string{"waiting": what}); err != nil {
		return err
	}
	return q.Done(j.Path(""))
}
