using System.Diagnostics;
using System.Diagnostics.Metrics;

namespace Traceability.Service.Operations;

/// <summary>The service's own traces and counters, read by OpenTelemetry.</summary>
public static class Telemetry
{
    public const string Name = "Traceability";

    public static readonly ActivitySource Source = new(Name);
    public static readonly Meter Meter = new(Name);

    public static readonly Counter<long> ReceivedFacts = Meter.CreateCounter<long>("trace.facts.received", "{fact}", "Facts taken in");
    public static readonly Counter<long> Recorded = Meter.CreateCounter<long>("trace.facts.recorded", "{fact}", "Facts recorded");
    public static readonly Counter<long> Quarantined = Meter.CreateCounter<long>("trace.facts.quarantined", "{fact}", "Facts set apart until an administrator clears them");
    public static readonly Counter<long> Parked = Meter.CreateCounter<long>("trace.facts.parked", "{fact}", "Facts that could not be recorded");
    public static readonly Counter<long> Assembled = Meter.CreateCounter<long>("trace.units.assembled", "{unit}", "Unit rows written");
    public static readonly Histogram<double> Writing = Meter.CreateHistogram<double>("trace.writing.time", "s", "How long a writing transaction was open, which every other writer waits for");

    /// <summary>Span of laying out a document and zipping it.</summary>
    public const string LayingOut = "lay out";

    /// <summary>Tag of the span of a judgement: the unit's serial.</summary>
    public const string Unit = "trace.unit";

    /// <summary>Tag of the span of a writing transaction: how many judgements were made inside it.</summary>
    public const string JudgementsInside = "trace.judgements";
}
