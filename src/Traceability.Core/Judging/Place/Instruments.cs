using Traceability.Core.Events;

namespace Traceability.Core.Judging.Place;

/// <summary>Instruments of the fresh tests and of the batch were in calibration then. Needs: sample tested, batch ticket, instrument calibrated.</summary>
public sealed class Instruments : IRequirement
{
    public string Id => "place.instruments";
    public HoldKind Hold => HoldKind.Place;
    public string Title => "Instruments of the batch and the fresh tests";
    public IReadOnlyList<string> Limits => [];

    public IEnumerable<Finding> Judge(Matter matter) =>
        Evidence.PerBatch(this, matter, Evidence.Calibration, ticket =>
                Evidence.Instruments(this, matter, ticket.Fact.About.Key, ticket.Fact.Instruments, ticket.Clocked(ticket.Fact.ChargedAt), ticket.Id, Evidence.Calibration))
            .Concat(Evidence.PerSample(this, matter, Evidence.Calibration, sample =>
                Evidence.Instruments(this, matter, sample.Fact.About.Key, sample.Fact.Instruments, sample.At, sample.Id, Evidence.Calibration)));
}
