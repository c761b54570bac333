package webtest

import (
	"strings"
)

// HTMLText undoes the escapes that the templates put in.
func HTMLText(s string) string {
	return strings.NewReplacer("&#34;", `"`, "&#39;", "'", "&lt;", "<", "&gt;", ">", "&#43;", "+", "&amp;", "&").Replace(s)
}
