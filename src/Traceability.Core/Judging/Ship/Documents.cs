using Traceability.Core.Events;
using Traceability.Core.Judging.Holds;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Ship;

/// <summary>The load certificate that goes with the truck names the unit, where the profile asks for one. Needs: the certificate issued.</summary>
public sealed class Documents : IRequirement
{
    private const string Asked = "asked.load-certificate";

    private static readonly Citation Source = new("Certificate of compliance with the delivery", SourceMark.CommonPractice);

    public string Id => "ship.documents";
    public HoldKind Hold => HoldKind.Ship;
    public string Title => "Load certificate";
    public IReadOnlyList<string> Limits => [Asked];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        var unit = matter.File.Unit.Key;
        var issued = Steps.OfThisShipment<LoadCertificateIssued>(matter.File).Where(c => c.Fact.Units.Contains(matter.File.Unit.Id)).ToList();
        yield return issued.Count == 0
            ? Evidence.AbsentWhereAsked<LoadCertificateIssued>(this, matter, unit, Asked, "No load certificate names the unit.", "The quality engineer issues the load certificate.", Source)
            : Matter.Finding(this, unit, Verdict.Met, $"Load certificate of delivery {issued[^1].Fact.Delivery}.", matter.Limit(Asked)?.Source ?? Source) with { Observed = issued[^1].Fact.Delivery, Used = [.. issued.Select(c => c.Id)] };
    }
}
