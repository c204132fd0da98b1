package hairline_test

import (
	"testing"

	"peelcheck/preflight/rules/hairline"
	"peelcheck/preflight/ruletest"
)

func TestRule(t *testing.T) { ruletest.Run(t, hairline.Rule) }
