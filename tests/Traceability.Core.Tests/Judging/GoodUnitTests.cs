using Traceability.Core.Events;
using Traceability.Core.Judging;
using static Traceability.Core.Tests.Judging.UnitCase;

namespace Traceability.Core.Tests.Judging;

public sealed class GoodUnitTests
{
    [Fact]
    public void A_good_unit_has_nothing_open_in_any_hold()
    {
        var open = Good.Judge().Holds.SelectMany(h => h.OpenItems.Select(o => $"{h.Kind}: {o.Requirement} {o.Subject}: {o.Verdict} {o.Reason}"));
        Assert.Equal([], open);
    }

    [Fact]
    public void Every_requirement_finds_something_and_every_finding_can_be_traced()
    {
        var findings = Good.Judge().Findings;
        Assert.Equal(Rules.All.Select(r => r.Id).Order(), findings.Select(f => f.Requirement).Distinct().Order());
        Assert.All(findings, f =>
        {
            Assert.NotEmpty(f.Title);
            Assert.NotEmpty(f.Reason);
            Assert.NotEmpty(f.Source.Document);
            Assert.True(f.Verdict == Verdict.Met || f.Verdict == Verdict.Provisional || f.Verdict == Verdict.NotApplicable, f.Requirement + " " + f.Verdict);
            // What was looked for and is not there has no record to name.
            Assert.True(f.Used.Count > 0 || f.Verdict == Verdict.NotApplicable || f.Requirement is "ship.records-agree" or "ship.not-rejected", f.Requirement + " names no evidence");
        });
    }
}
