using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Judging.Acceptance;
using Traceability.Core.Profiles;
using Traceability.Core.Records;

namespace Traceability.Core.Judging.Ship;

/// <summary>
/// Strength before shipping, of every sample in the unit: the ship set, or the acceptance set at its age. Needs: drawing,
/// placement, sample tested, cylinders broken, person certified, instrument calibrated. A low acceptance set stands against
/// a ship set that passed; the other way round the older concrete speaks.
/// </summary>
public sealed class ShipStrength : IRequirement
{
    private const string ShipCylinders = "ship.cylinders", Age = "acceptance.age", Window = "cylinder.age-window",
        Acceptance4 = "acceptance.cylinders.4x8", Acceptance6 = "acceptance.cylinders.6x12";

    private const string Clear = "The laboratory breaks the ship set; if it is low the unit waits and the set is broken again.";

    private static readonly Citation Source = new("Strength before shipping", SourceMark.CommonPractice);

    public string Id => "ship.strength";
    public HoldKind Hold => HoldKind.Ship;
    public string Title => "Strength before shipping";
    public IReadOnlyList<string> Limits => [ShipCylinders, Age, Window, Acceptance4, Acceptance6, .. CylinderSet.Limits];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        if (matter.File.Drawing is not { } drawing)
        {
            yield return Evidence.NoDrawing(this, matter, Source);
            yield break;
        }

        var any = false;
        foreach (var sample in matter.File.RepresentingSamples.Where(s => s.Fact.Cylinders.Any(c => c.Purpose is CylinderPurpose.Ship or CylinderPurpose.Acceptance)))
        {
            any = true;
            var subject = $"{sample.Fact.About.Key} before shipping";
            yield return Missing(matter, sample) is { } key
                ? matter.NoLimit(this, subject, key)
                : Sample(matter, sample, drawing.Fact.ShipStrengthPsi.Value).Finding(this, matter, subject, drawing, drawing.Fact.ShipStrengthPsi, Clear);
        }

        if (!any)
            yield return Evidence.Absent<SampleTested>(this, matter, matter.File.Unit.Key, "No ship or acceptance cylinders of concrete in this unit are recorded.", "The laboratory records the sample with its cylinders.", Source) with { Used = [drawing.Id] };
    }

    private static string? Missing(Matter matter, Entry<SampleTested> sample) =>
        new[] { ShipCylinders, Age, Window, AcceptanceKey(sample) }.FirstOrDefault(k => matter.Limit(k) is null);

    private static string AcceptanceKey(Entry<SampleTested> sample) =>
        sample.Fact.Cylinders.Any(c => c is { Purpose: CylinderPurpose.Acceptance, Size: "6x12" }) ? Acceptance6 : Acceptance4;

    private static CylinderSet Sample(Matter matter, Entry<SampleTested> sample, decimal requiredPsi)
    {
        Moment? shipped = matter.File.Of<UnitShipped>().FirstOrDefault()?.At;
        const string Words = "the unit was shipped";
        CylinderSet? Set(CylinderPurpose purpose, SetDemand demand) =>
            sample.Fact.Cylinders.Any(c => c.Purpose == purpose) ? CylinderSet.Judge(matter, sample, purpose, demand) : null;

        var (days, window) = AcceptanceTests.AgeOf(matter, sample);
        var acceptance = Set(CylinderPurpose.Acceptance, new SetDemand(requiredPsi, CylinderSet.Fewest(matter, AcceptanceKey(sample))!.Value, false, shipped, Words,
            days, window, StandardCured: !AcceptanceTests.ByLot(matter)));
        var ship = Set(CylinderPurpose.Ship, new SetDemand(requiredPsi, CylinderSet.Fewest(matter, ShipCylinders)!.Value, false, shipped, Words));
        if (ship is null || acceptance is null) return (ship ?? acceptance)!;
        var speaks = acceptance.Verdict is Verdict.NotMet or Verdict.Met ? acceptance : ship;
        var other = ReferenceEquals(speaks, ship) ? acceptance : ship;
        return speaks with
        {
            Reason = (ReferenceEquals(speaks, ship) ? "Ship set: " : "Acceptance set: ") + speaks.Reason,
            SetAside = [.. speaks.SetAside, .. other.SetAside, .. other.Used.Except(speaks.Used).Select(r => new UnusedEvidence(r, ReferenceEquals(speaks, ship) ? "the acceptance set, judged apart" : "the ship set, younger than the acceptance set"))],
        };
    }
}
