package pagenote_test

import (
	"testing"

	"peelcheck/preflight/rules/pagenote"
	"peelcheck/preflight/ruletest"
)

func TestRule(t *testing.T) { ruletest.Run(t, pagenote.Rule) }
