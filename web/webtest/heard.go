package webtest

import (
	"encoding/json"
	"strings"
	"time"

	"github.com/chromedp/cdproto/accessibility"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// Heard is one thing of a page as a screen reader is given it by the browser.
type Heard struct {
	Role, Name, Description, Value string
	Focused                        bool
}

// Hears is all that the page gives to a screen reader, in its order.
func (s *Screen) Hears() []Heard {
	s.T.Helper()
	tree, err := chromedp.Call(s.Ctx, accessibility.GetFullAXTree, accessibility.GetFullAXTreeParams{})
	if err != nil {
		s.T.Fatal(err)
	}
	var all []Heard
	for _, n := range tree.Nodes {
		if n.Ignored {
			continue
		}
		one := Heard{Role: spoken(n.Role), Name: spoken(n.Name), Description: spoken(n.Description),
			Value: spoken(n.Value)}
		for _, p := range n.Properties {
			one.Focused = one.Focused || p.Name == "focused" && spoken(p.Value) == "true"
		}
		all = append(all, one)
	}
	return all
}

// spoken is what a value of the tree says.
func spoken(v *accessibility.Value) string {
	if v == nil {
		return ""
	}
	var said any
	if json.Unmarshal(v.Value, &said) != nil {
		return ""
	}
	switch said := said.(type) {
	case string:
		return said
	case bool:
		if said {
			return "true"
		}
	}
	return ""
}

// HearsOf waits until something with the role is heard whose name holds the words, and gives it.
func (s *Screen) HearsOf(role, words string) Heard {
	s.T.Helper()
	var all []Heard
	for end := time.Now().Add(20 * time.Second); time.Now().Before(end); time.Sleep(100 * time.Millisecond) {
		all = s.Hears()
		for _, h := range all {
			if h.Role == role && strings.Contains(h.Name, words) {
				return h
			}
		}
	}
	s.T.Fatalf("no %s is heard that says %q in %v", role, words, all)
	return Heard{}
}

// TabTo presses the tab key until what has the focus has the role and a name that begins with the words, as somebody
// does who only hears.
func (s *Screen) TabTo(role, words string) {
	s.T.Helper()
	var passed []string
	for range 150 {
		for _, h := range s.Hears() {
			if !h.Focused || h.Role == "RootWebArea" {
				continue
			}
			if h.Role == role && strings.HasPrefix(h.Name, words) {
				return
			}
			passed = append(passed, h.Role+" "+h.Name)
		}
		s.Keys(kb.Tab)
	}
	s.T.Fatalf("the tab key never comes to a %s called %q; it passed %q", role, words, passed)
}
