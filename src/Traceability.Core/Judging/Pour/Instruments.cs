using Traceability.Core.Events;

namespace Traceability.Core.Judging.Pour;

/// <summary>Every instrument used before the pour was in calibration on that day. Needs: pre-pour inspection, instrument calibrated.</summary>
public sealed class Instruments : IRequirement
{
    public string Id => "pour.instruments";
    public HoldKind Hold => HoldKind.Pour;
    public string Title => "Instruments of the inspection before the pour";
    public IReadOnlyList<string> Limits => [];

    public IEnumerable<Finding> Judge(Matter matter) =>
        matter.File.Last<PrePourInspected>() is { } inspection
            ? Evidence.Instruments(this, matter, matter.File.Unit.Key, inspection.Fact.Instruments, inspection.At, inspection.Id, Evidence.Calibration)
            : [Evidence.NoPrePour(this, matter)];
}
