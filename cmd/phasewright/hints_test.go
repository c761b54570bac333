package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/alecthomas/kong"
)

// commandInText is a command as a message names it.
var commandInText = regexp.MustCompile("phasewright ([a-z]+)(?: ([a-z]+))?")

// Every command that a message of the program names is one that it has.
func TestMessagesNameCommandsThatExist(t *testing.T) {
	tree := theTree()
	children := func(n *kong.Node, name string) *kong.Node {
		for _, c := range n.Children {
			if c.Name == name && c.Type == kong.CommandNode {
				return c
			}
		}
		return nil
	}
	seen := 0
	root := filepath.Join("..", "..")
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			if err == nil && (d.Name() == "node_modules" || d.Name() == ".git") {
				return fs.SkipDir
			}
			return err
		}
		if !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return nil
		}
		file, err := parser.ParseFile(token.NewFileSet(), path, nil, 0)
		if err != nil {
			return err
		}
		ast.Inspect(file, func(n ast.Node) bool {
			text, ok := literal(n)
			if !ok {
				return true
			}
			for _, m := range commandInText.FindAllStringSubmatch(text, -1) {
				if formats[m[1]] {
					continue
				}
				command := children(tree, m[1])
				if command == nil {
					t.Errorf("%s names %q, and there is no such command", path, m[0])
					continue
				}
				seen++
				if len(command.Children) > 0 && m[2] != "" && children(command, m[2]) == nil {
					t.Errorf("%s names %q, and there is no such command", path, m[0])
				}
			}
			return false
		})
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if seen < 10 {
		t.Errorf("%d commands found in messages", seen)
	}
}

// formats are second words of names of formats and of who wrote a file, which are no commands.
var formats = map[string]bool{"job": true, "test": true, "edges": true}

// literal gives the text of a string, put together where it is in parts.
func literal(n ast.Node) (string, bool) {
	switch n := n.(type) {
	case *ast.BasicLit:
		if n.Kind == token.STRING {
			text, err := strconv.Unquote(n.Value)
			return text, err == nil
		}
	case *ast.BinaryExpr:
		a, ok := literal(n.X)
		b, also := literal(n.Y)
		return a + b, n.Op == token.ADD && ok && also
	}
	return "", false
}
