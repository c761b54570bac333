package access

import (
	"errors"
	"net/http"
	"strconv"

	"phasewright/web/page"
)

type pairBody struct {
	Code, Wrong, Name, NameWrong string

	Paired    bool   // already: only the steps to trust are of use
	InClear   bool   // the line between this device and the server is not protected
	Authority string // what the shop's authority is called; "" where there is none
}

// pairPage asks for the code. A code in the address, as the QR carries it, only fills the field: reading a page pairs
// nothing.
func (a *Room) pairPage(q *page.Request) error {
	return a.pairForm(q, 0, pairBody{Code: signsOf(q.URL.Query().Get("code"))})
}

func (a *Room) pairForm(q *page.Request, status int, b pairBody) error {
	b.Paired = q.By.Role != page.Nobody && b.Code == "" && status == 0
	b.InClear = q.TLS == nil && !q.By.Host
	if a.config.Authority != nil {
		b.Authority = a.config.Authority.Title()
	}
	return q.Render(page.Page{View: "pair", Title: "Pair this device", Where: "Pair", Status: status, Body: b})
}

func (a *Room) pairPost(q *page.Request) error {
	b := pairBody{Code: q.PostForm.Get("code"), Name: page.CleanName(q.PostForm.Get("name"))}
	if b.Name == "" {
		b.NameWrong = "The record needs a name – write yours."
		return a.pairForm(q, http.StatusUnprocessableEntity, b)
	}
	from := Remote(q.Request)
	role, err := a.pairing.try(from, b.Code)
	if err != nil {
		status := http.StatusForbidden
		if wait := (waitFirst{}); errors.As(err, &wait) { // not even looked at
			status = http.StatusTooManyRequests
			q.W.Header().Set("Retry-After", strconv.Itoa(wait.seconds()))
		} else if errors.Is(err, errWrongCode) { // where there is no code to guess, a stranger cannot fill the log
			a.Log.Warn("pairing refused", "from", from, "err", err)
		}
		b.Wrong = err.Error()
		return a.pairForm(q, status, b)
	}
	d, secret, err := a.devices.add(b.Name, role)
	if err != nil {
		a.pairing.giveBack(b.Code)
		return err
	}
	a.Log.Info("device paired", "id", d.ID, "role", role.String(), "from", from)
	http.SetCookie(q.W, sessionCookie(secret, q.TLS != nil))
	return q.Done("/")
}

// authorityFile gives the certificate that devices are asked to trust. It is public: who has it can check signatures,
// not make them.
func (a *Room) authorityFile(q *page.Request) error {
	if a.config.Authority == nil {
		return page.Say(http.StatusNotFound, "This server has no certificates.",
			"Start it with --lan and without --plain.")
	}
	q.W.Header().Set("Content-Type", "application/x-x509-ca-cert") // the type at which browsers offer to install it
	q.W.Write(a.config.Authority.Root())                           // a client that has gone is no news
	return nil
}
