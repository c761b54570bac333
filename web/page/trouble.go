package page

import (
	"cmp"
	"context"
	"crypto/rand"
	"errors"
	"log/slog"
	"net/http"
	"slices"

	"phasewright/book"
)

// formValue is a field that was typed when something failed: it goes back into the page, so that it can be sent again.
type formValue struct {
	Name, Value string
	Long        bool // hidden fields apart, long ones are shown in a box
}

// troubleBody is what the page of an error shows.
type troubleBody struct {
	What, Doing string
	Action      string // where the fields go again
	Kept        []formValue
}

// trouble answers with the error in words, and with what was typed.
func (q *Request) trouble(err error) {
	if errors.Is(err, context.Canceled) && q.Context().Err() != nil {
		return // the sender has gone
	}
	said := words(err)
	if errors.Is(err, book.ErrAway) && Safe(q.Request) { // the page comes back by itself
		q.W.Header().Set("Refresh", "3")
		q.W.Header().Set("Retry-After", "3")
	}
	if said.Status >= 500 {
		said = q.numbered(said, err)
	}
	if q.WantsJSON() {
		q.JSON(said.Status, Reply{Say: said.What, Do: said.Do})
		return
	}
	body := troubleBody{What: said.What, Doing: said.Do}
	if q.Method == http.MethodPost && !IsUpload(q.Request) && q.ParseForm() == nil {
		body.Action, body.Kept = q.URL.Path, q.typed()
	}
	if q.Render(Page{View: "trouble", Title: "Not done", Where: "Not done", Status: said.Status, Body: body}) != nil {
		http.Error(q.W, said.Error(), said.Status)
	}
}

// typed lists the fields of the form by name.
func (q *Request) typed() []formValue {
	var all []formValue
	for name, values := range q.PostForm {
		for _, value := range values {
			all = append(all, formValue{name, value, len(value) > 80})
		}
	}
	slices.SortStableFunc(all, func(a, b formValue) int { return cmp.Compare(a.Name, b.Name) })
	return all
}

// numbered writes an error of the server's own into the log and gives the words a number that finds the line again.
func (q *Request) numbered(said *UserError, err error) *UserError {
	number, where := TroubleNumber()
	level, own := slog.LevelError, (*UserError)(nil)
	if errors.As(err, &own) && own.Status != http.StatusInternalServerError {
		level = slog.LevelWarn // a limit that the pages themselves explain, such as too many benches
	}
	q.site.Log.Log(q.Context(), level, "request failed", "number", number, "status", said.Status,
		"method", q.Method, "path", q.URL.Path, "err", err)
	return &UserError{said.Status, said.What, said.Do + " " + where}
}

// TroubleNumber makes a number for a line of the log, and the words that tell it to whoever sees the page.
func TroubleNumber() (number, where string) {
	number = rand.Text()[:6]
	return number, "In the program’s log on the host computer this is number " + number + "."
}

// turnAway answers a sender whose role does not suffice.
func (q *Request) turnAway(need Role) {
	switch {
	case q.By.Role > Nobody:
		q.trouble(Say(http.StatusForbidden,
			"This device may "+q.By.Role.String()+" only; this needs "+need.String()+".",
			"Ask at the host's screen, under Devices, for another role."))
	case Safe(q.Request) && !q.WantsJSON() && q.URL.Path != "/live":
		http.Redirect(q.W, q.Request, "/pair", http.StatusSeeOther)
	default:
		q.trouble(Say(http.StatusUnauthorized, "This device is not paired with the host computer.",
			"Open /pair on this device and enter the code on the host's screen."))
	}
}
