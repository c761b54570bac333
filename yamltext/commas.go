package yamltext

import (
	"strings"

	"github.com/goccy/go-yaml/ast"
)

// joinAtCommas puts together again what commas have cut. Between braces YAML ends a value at a comma, so that
// {order: 1,5,3, rod: 158,5 mm} has the keys 5, 3 and "5 mm" with nothing behind them. A key on the line of the value
// before it that begins with a digit and holds nothing is taken for the rest of that value: no file of ours has such
// keys.
func joinAtCommas(n ast.Node) {
	switch x := n.(type) {
	case *ast.SequenceNode:
		for _, item := range x.Values {
			joinAtCommas(item)
		}
	case *ast.MappingValueNode:
		joinAtCommas(x.Value)
	case *ast.MappingNode:
		kept := x.Values[:0]
		for _, entry := range x.Values {
			if last := len(kept) - 1; last >= 0 && isRest(kept[last], entry) {
				text, _ := Scalar(kept[last].Value)
				kept[last].Value = &ast.StringNode{BaseNode: &ast.BaseNode{}, Token: kept[last].Value.GetToken(),
					Value: text + "," + Key(entry)}
				continue
			}
			kept = append(kept, entry)
			joinAtCommas(entry.Value)
		}
		x.Values = kept
	}
}

// isRest reports whether an entry is no key but what a comma cut off the value before it.
func isRest(before, entry *ast.MappingValueNode) bool {
	_, plain := Scalar(before.Value)
	_, empty := entry.Value.(*ast.NullNode)
	key := Key(entry)
	return plain && empty && strings.IndexAny(key, "0123456789") == 0 &&
		PlaceOf(entry.Key).Line == PlaceOf(before.Value).Line
}
