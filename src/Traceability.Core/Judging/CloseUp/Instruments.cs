using Traceability.Core.Events;

namespace Traceability.Core.Judging.CloseUp;

/// <summary>Every instrument used at the close-up was in calibration on that day. Needs: close-up inspection, instrument calibrated.</summary>
public sealed class Instruments : IRequirement
{
    public string Id => "close-up.instruments";
    public HoldKind Hold => HoldKind.CloseUp;
    public string Title => "Instruments of the close-up inspection";
    public IReadOnlyList<string> Limits => [];

    public IEnumerable<Finding> Judge(Matter matter) =>
        matter.File.Last<CloseUpInspected>() is { } inspection
            ? Evidence.Instruments(this, matter, matter.File.Unit.Key, inspection.Fact.Instruments, inspection.At, inspection.Id, Evidence.Calibration)
            : [Evidence.NoCloseUp(this, matter)];
}
