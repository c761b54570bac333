package access_test

import (
	"fmt"
	"net/url"
	"testing"
	"time"

	"phasewright/web/page"
	"phasewright/web/webtest"
)

// Whoever sits at the host's screen sees wrong codes and new devices come, without loading the page again.
func TestHostsScreenFollowsThePairing(t *testing.T) {
	s := webtest.NewShop(t)
	i, err := s.InviteMany(page.Work, 2)
	if err != nil {
		t.Fatal(err)
	}
	base, line := s.Listen()
	p := s.Screen(webtest.Browser(t), base, 1280, 800)
	p.Open("/devices")
	p.Wait(`document.documentElement.dataset.script == "on"`)
	for n := range 2 {
		s.Do(webtest.Request("POST", "/pair", webtest.PhoneAddr, url.Values{"code": {wrongCode(i)}, "name": {"Ada"}}))
		p.Wait(fmt.Sprintf(`document.querySelector("#code").innerText.includes("from 192.0.2.9: %d wrong")`, n+1))
	}
	s.Do(webtest.Request("POST", "/pair", webtest.PhoneAddr, url.Values{"code": {i.Code}, "name": {"Ada Reed, phone"}}))
	p.Wait(`document.querySelector("#paired").innerText.includes("Ada Reed, phone")`)
	p.Wait(`document.querySelector("#code").innerText.includes("1 have not come yet")`)
	if !webtest.Eval[bool](p, `!!document.querySelector("svg.qr")`) {
		t.Error("the code of which one use is left has gone")
	}
	s.Do(webtest.Request("POST", "/pair", "192.0.2.10:50000", url.Values{"code": {i.Code}, "name": {"Ben Lock, tablet"}}))
	p.Wait(`document.querySelector("#code").innerText.includes("used by all 2 devices")`)
	p.Wait(`!document.querySelector("svg.qr")`)
	if bad := p.Complaints(); len(bad) > 0 {
		t.Errorf("%q", bad)
	}

	line.Set(true)
	time.Sleep(3500 * time.Millisecond) // the page asks every three seconds: once in vain
	line.Set(false)
	s.Do(webtest.Request("POST", "/pair", webtest.PhoneAddr, url.Values{"code": {wrongCode(i)}, "name": {"Ada"}}))
	p.Wait(`document.querySelector("#code").innerText.includes("from 192.0.2.9: 3 wrong")`)
}
