package access_test

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"phasewright/web/page"
	"phasewright/web/webtest"
)

// The symbol on the host's screen is read by zbarimg (zbar-tools) from a picture of the page, by day and by night.
func TestQRIsReadByAnotherProgram(t *testing.T) {
	tool, err := exec.LookPath("zbarimg")
	if err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal("zbarimg is not installed: the QR symbol was not read by another program")
		}
		t.Skip("SKIPPED: zbarimg (zbar-tools) is not installed, so the QR symbol was NOT read by another program")
	}
	s := webtest.NewShop(t)
	base, _ := s.Listen()
	p := s.Screen(webtest.Browser(t), base, 360, 740)
	invite, err := s.Invite(page.Work)
	if err != nil {
		t.Fatal(err)
	}
	for _, look := range []string{"light", "dark"} {
		p.Scheme(look)
		p.Open("/devices")
		png, err := chromedp.Run(p.Ctx, chromedp.Screenshot(chromedp.CSS("svg.qr")))
		if err != nil {
			t.Fatal(err)
		}
		file := filepath.Join(t.TempDir(), "qr.png")
		if err := os.WriteFile(file, png, 0o600); err != nil {
			t.Fatal(err)
		}
		out, err := exec.Command(tool, "--quiet", "--raw", file).Output()
		if err != nil || strings.TrimSpace(string(out)) != invite.URL {
			t.Errorf("%s: read %q, %v; want %q", look, out, err, invite.URL)
		}
	}
}
