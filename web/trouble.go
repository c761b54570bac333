package web

import (
	"context"
	"crypto/rand"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"runtime/debug"
	"sort"

	"phasewright/book"
	"phasewright/record"
)

// maxForm bounds a form in bytes: a job card is a few kilobytes.
const maxForm = 512 << 10

// plainly is an error in words for the page: what is the matter, and what to do.
type plainly struct {
	status      int
	what, doing string
}

func (e *plainly) Error() string { return e.what + " " + e.doing }

func say(status int, what, doing string) error { return &plainly{status, what, doing} }

// kept is a field that was typed when something failed: it goes back into the page, so that it can be sent again.
type kept struct {
	Name, Value string
	Long        bool // hidden fields apart, long ones are shown in a box
}

// troubleBody is what the trouble page shows.
type troubleBody struct {
	What, Doing string
	Action      string // where the kept fields go again
	Kept        []kept
}

// words puts an error into words.
func words(err error) *plainly {
	var p *plainly
	var conflict *book.Conflict
	var tooBig *http.MaxBytesError
	switch {
	case errors.As(err, &p):
		return p
	case errors.Is(err, record.ErrNoCard):
		return &plainly{http.StatusConflict, "There is no job card that can be used.", "Correct the job card first; sheet, readings and proof follow from it."}
	case errors.Is(err, book.ErrNoJob):
		return &plainly{http.StatusNotFound, "There is no such job in this shop book.", "Go to the shop book and look for it by name."}
	case errors.Is(err, book.ErrNoAttachment):
		return &plainly{http.StatusNotFound, "There is no such file with this job.", "Open the job's captures and choose one from the list."}
	case errors.As(err, &conflict):
		return &plainly{http.StatusConflict, "Somebody else changed this job meanwhile.", "Look at what changed, then send yours again."}
	case errors.Is(err, book.ErrKeyReused):
		return &plainly{http.StatusConflict, "This form was sent before with other contents.", "Load the page again and enter what is new."}
	case errors.Is(err, book.ErrFull):
		return &plainly{http.StatusInsufficientStorage, "The disk of the host computer is full. Nothing was recorded; what was recorded before is safe.", "Make room on the host computer, then send again."}
	case errors.Is(err, book.ErrQuota):
		return &plainly{http.StatusInsufficientStorage, "The shop book's space for files is used up. Nothing was recorded.", "Remove old captures or raise the limit, then send again."}
	case errors.Is(err, book.ErrClosed):
		return &plainly{http.StatusServiceUnavailable, "The shop book is closed. Nothing was recorded.", "Start the program on the host computer again, then send again."}
	case errors.Is(err, book.ErrDamaged):
		return &plainly{http.StatusServiceUnavailable, "The shop book's file is damaged. What can still be read is shown; nothing more is recorded.",
			"Stop the program on the host computer and keep the file as it is. “phasewright book check FILE” says what is hurt. “phasewright book restore FILE NEW” " +
				"takes everything over to a new book where every event can still be read; where it refuses, restore the last backup the same way."}
	case errors.Is(err, book.ErrDisk), errors.Is(err, book.ErrNotBook):
		return &plainly{http.StatusServiceUnavailable, "The host computer's disk does not give the shop book as it was written. Nothing was recorded.",
			"Stop the program on the host computer and check the disk; then “phasewright book check FILE” says whether the book is sound."}
	case errors.Is(err, book.ErrReadOnly):
		return &plainly{http.StatusServiceUnavailable, "The shop book can be read but not written. Nothing was recorded.", "Free the book's file on the host computer for writing, then send again."}
	case errors.Is(err, book.ErrInUse):
		return &plainly{http.StatusServiceUnavailable, "Another program holds the shop book. Nothing was recorded.", "Close the other program on the host computer, then send again."}
	case errors.As(err, &tooBig), errors.Is(err, book.ErrTooLarge):
		return &plainly{http.StatusRequestEntityTooLarge, "That is more than can be recorded at once. Nothing was recorded.", "Send less, or a smaller file."}
	case errors.Is(err, book.ErrBadInput):
		return &plainly{http.StatusUnprocessableEntity, err.Error(), "Correct it and send again."}
	}
	return &plainly{http.StatusInternalServerError, "Something went wrong inside the program. What was recorded before is safe.", "Send again. If it goes wrong again, start the program again and note what you did."}
}

// trouble answers with the error in words, and with what was typed.
func (s *Server) trouble(w http.ResponseWriter, r *http.Request, v *visit, err error) {
	if errors.Is(err, context.Canceled) && r.Context().Err() != nil {
		return // the sender has gone
	}
	p := words(err)
	if p.status >= 500 {
		p = s.numbered(p, r, err)
	}
	if wantsJSON(r) {
		answerJSON(w, p.status, reply{Say: p.what, Do: p.doing})
		return
	}
	body := troubleBody{What: p.what, Doing: p.doing}
	if r.Method == http.MethodPost && !isUpload(r) && r.ParseForm() == nil {
		body.Action = r.URL.Path
		body.Kept = keptFields(r)
	}
	if s.render(w, r, v, page{View: "trouble", Title: "Not done", Where: "Not done", Status: p.status, Body: body}) != nil {
		http.Error(w, p.what+" "+p.doing, p.status)
	}
}

// numbered writes an error of the server's own into the log and gives the words a number that finds the line again.
func (s *Server) numbered(p *plainly, r *http.Request, err error) *plainly {
	number, where := numberOfTrouble()
	level, known := slog.LevelError, (*plainly)(nil)
	if errors.As(err, &known) && known.status != http.StatusInternalServerError {
		level = slog.LevelWarn // a limit that the pages themselves explain, such as too many benches
	}
	s.Log.Log(r.Context(), level, "request failed", "number", number, "status", p.status,
		"method", r.Method, "path", r.URL.Path, "err", err)
	return &plainly{p.status, p.what, p.doing + " " + where}
}

// numberOfTrouble makes a number for a line of the log, and the words that tell it to whoever sees the page.
func numberOfTrouble() (number, where string) {
	number = rand.Text()[:6]
	return number, "In the program’s log on the host computer this is number " + number + "."
}

func keptFields(r *http.Request) []kept {
	var all []kept
	for name, values := range r.PostForm {
		for _, value := range values {
			all = append(all, kept{name, value, len(value) > 80})
		}
	}
	sort.Slice(all, func(i, j int) bool { return all[i].Name < all[j].Name })
	return all
}

// catch turns a panic into a page; the details go to the log only.
func (s *Server) catch(w http.ResponseWriter, r *http.Request, v *visit) {
	p := recover()
	if p == nil {
		return
	}
	if p == http.ErrAbortHandler {
		panic(p)
	}
	s.trouble(w, r, v, fmt.Errorf("panic: %v\n%s", p, debug.Stack()))
}

// turnAway answers a visitor whose role does not suffice.
func (s *Server) turnAway(w http.ResponseWriter, r *http.Request, v *visit, need Role) {
	if v.role == Nobody {
		if safe(r) && !wantsJSON(r) && r.URL.Path != "/live" {
			http.Redirect(w, r, "/pair", http.StatusSeeOther)
			return
		}
		s.trouble(w, r, v, say(http.StatusUnauthorized, "This device is not paired with the host computer.", "Open /pair on this device and enter the code on the host's screen."))
		return
	}
	s.trouble(w, r, v, say(http.StatusForbidden, "This device may "+v.role.String()+" only; this needs "+need.String()+".",
		"Ask at the host's screen, under Devices, for another role."))
}

// reply is what script is answered with instead of a page.
type reply struct {
	Say    string            `json:"say,omitempty"`    // what is the matter
	Do     string            `json:"do,omitempty"`     // what to do
	Fields map[string]string `json:"fields,omitempty"` // what is the matter with which field
	Go     string            `json:"go,omitempty"`     // the page to show
}

func wantsJSON(r *http.Request) bool { return r.Header.Get("Accept") == "application/json" }

func answerJSON(w http.ResponseWriter, status int, a reply) {
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(status)
	json.NewEncoder(w).Encode(a) // a client that has gone is no news
}

// done answers a change that was recorded: the page to show next.
func done(w http.ResponseWriter, r *http.Request, to string) error {
	to = ownPath(to)
	if wantsJSON(r) {
		answerJSON(w, http.StatusOK, reply{Go: to})
		return nil
	}
	http.Redirect(w, r, to, http.StatusSeeOther)
	return nil
}
