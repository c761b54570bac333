package web

import (
	"fmt"
	"net/url"
	"testing"
	"time"
)

// Whoever sits at the host's screen sees wrong codes and new devices come, without loading the page again.
func TestHostsScreenFollowsThePairing(t *testing.T) {
	s := newShop(t)
	i, err := s.InviteMany(Work, 2)
	if err != nil {
		t.Fatal(err)
	}
	base, line := s.serve()
	p := s.screen(browser(t), base, 1280, 800)
	p.open("/devices")
	p.wait(`document.documentElement.dataset.script == "on"`)
	for n := range 2 {
		s.do(request("POST", "/pair", phoneAddr, url.Values{"code": {wrongCode(i)}, "name": {"Ada"}}))
		p.wait(fmt.Sprintf(`document.querySelector("#code").innerText.includes("from 192.0.2.9: %d wrong")`, n+1))
	}
	s.do(request("POST", "/pair", phoneAddr, url.Values{"code": {i.Code}, "name": {"Ada Reed, phone"}}))
	p.wait(`document.querySelector("#paired").innerText.includes("Ada Reed, phone")`)
	p.wait(`document.querySelector("#code").innerText.includes("1 have not come yet")`)
	if !eval[bool](p, `!!document.querySelector("svg.qr")`) {
		t.Error("the code of which one use is left has gone")
	}
	s.do(request("POST", "/pair", "192.0.2.10:50000", url.Values{"code": {i.Code}, "name": {"Ben Lock, tablet"}}))
	p.wait(`document.querySelector("#code").innerText.includes("used by all 2 devices")`)
	p.wait(`!document.querySelector("svg.qr")`)
	if bad := p.complaints(); len(bad) > 0 {
		t.Errorf("%q", bad)
	}

	line.set(true)
	time.Sleep(3500 * time.Millisecond) // the page asks every three seconds: once in vain
	line.set(false)
	s.do(request("POST", "/pair", phoneAddr, url.Values{"code": {wrongCode(i)}, "name": {"Ada"}}))
	p.wait(`document.querySelector("#code").innerText.includes("from 192.0.2.9: 3 wrong")`)
}
