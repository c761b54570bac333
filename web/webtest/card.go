package webtest

import (
	"regexp"
	"strings"
)

// explained is a word of the trade that leads to what it means, an abbreviation with what it stands for.
var explained = regexp.MustCompile(`<dfn><a href="/words#[^"]+">([^<]*)</a></dfn>(?: \((?:before|after)? ?top dead centre\))?`)

// Unexplained takes the links of the words of the trade out of a page again.
func Unexplained(s string) string { return explained.ReplaceAllString(s, "$1") }

// HTMLText undoes the escapes and the links of words that the templates put in.
func HTMLText(s string) string {
	s = Unexplained(s)
	return strings.NewReplacer("&#34;", `"`, "&#39;", "'", "&lt;", "<", "&gt;", ">", "&#43;", "+", "&amp;", "&").Replace(s)
}
