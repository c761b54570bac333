package access

import (
	"cmp"
	"fmt"
	"html/template"
	"strconv"

	"phasewright/authority"
	"phasewright/web/page"
)

type devicesBody struct {
	Base, HostName, Until string
	Shown, Root           string  // fingerprints of the certificate shown and of the authority; "" in plain
	Invite                *Invite // nil where there is no code, or it has expired
	QR                    template.HTML
	Strangers             []strangerLine
	More                  int // addresses of strangers that are not listed
	Most                  int // devices that a code may be for
	Devices               []deviceLine
}

// strangerLine is an address from which wrong codes came.
type strangerLine struct {
	Addr, Last string
	Wrong      int
}

const strangersListed = 5

type deviceLine struct {
	ID, Name, Role, Paired, Seen string
	Others                       []string // roles it could have instead
}

// devicesPage shows the pairing code and the paired devices.
func (a *Room) devicesPage(q *page.Request) error {
	b := devicesBody{HostName: *a.hostName.Load(), Most: maxDevices}
	if a.config.Base != nil {
		b.Base = a.config.Base()
	}
	if keeper := a.config.Authority; keeper != nil {
		b.Shown, b.Root = keeper.Shown(), authority.Fingerprint(keeper.Root())
	}
	if i, ok := a.pairing.now(); b.Base != "" && a.Clock().Before(i.Expires) {
		b.Invite = &i
		if ok {
			svg, err := qrSVG(a.inviteURL(i))
			if err != nil {
				return err
			}
			b.QR, b.Until = svg, i.Expires.In(a.Clock().Location()).Format("15:04:05")
		}
	}
	strangers := a.pairing.strangers()
	for _, one := range strangers[:min(len(strangers), strangersListed)] {
		b.Strangers = append(b.Strangers, strangerLine{one.Addr, a.When(one.Last), one.Wrong})
	}
	b.More = len(strangers) - len(b.Strangers)
	for _, d := range a.devices.list() {
		line := deviceLine{ID: d.ID, Name: d.Name, Role: d.Role.String(),
			Paired: a.When(d.PairedAt), Seen: a.When(d.SeenAt)}
		for role := page.Look; role <= page.Instructor; role++ {
			if role != d.Role {
				line.Others = append(line.Others, role.String())
			}
		}
		b.Devices = append(b.Devices, line)
	}
	return q.Render(page.Page{View: "devices", Title: "Devices", Where: "Devices", Live: true, Body: b})
}

func (a *Room) codePost(q *page.Request) error {
	role, err := formRole(q)
	if err != nil {
		return err
	}
	devices, err := strconv.Atoi(cmp.Or(q.Field("devices"), "1"))
	if err != nil || devices < 1 || devices > maxDevices {
		return page.Refuse("A code is for a whole number of devices.",
			fmt.Sprintf("Write a number from 1 to %d.", maxDevices))
	}
	if _, err := a.Invite(role, devices); err != nil {
		return err
	}
	return q.Done("/devices")
}

func (a *Room) namePost(q *page.Request) error {
	name := page.CleanName(q.PostForm.Get("name"))
	if name == "" {
		return page.Refuse("The record needs a name.", "Write the name of whoever works at this screen.")
	}
	a.hostName.Store(&name)
	return q.Done("/devices")
}

func (a *Room) removePost(q *page.Request) error {
	id := q.PostForm.Get("id")
	if err := a.devices.remove(id); err != nil {
		return err
	}
	a.Log.Info("device sent away", "id", id, "by", q.By.Who)
	a.Streams.CloseDevice(id)
	a.pairing.end() // a code that was seen must not let it straight in again
	return q.Done("/devices")
}

func (a *Room) rolePost(q *page.Request) error {
	role, err := formRole(q)
	if err != nil {
		return err
	}
	id := q.PostForm.Get("id")
	if err := a.devices.setRole(id, role); err != nil {
		return err
	}
	a.Log.Info("device has another role", "id", id, "role", role.String(), "by", q.By.Who)
	return q.Done("/devices")
}

func formRole(q *page.Request) (page.Role, error) {
	role := page.ParseRole(q.PostForm.Get("role"))
	if role == page.Nobody {
		return role, page.Refuse("That is not something a device may do.", "Choose look, work or instructor.")
	}
	return role, nil
}
