namespace Traceability.Service.Operations;

/// <summary>Marks requests that judge many units, read long stretches of the log or lay a document out: a few at once, others wait their turn.</summary>
public static class Costly
{
    public const string Policy = "costly";

    /// <summary>How many at once, and how many wait; further ones are asked to come back. Our own choice, for two cores.</summary>
    public const int AtOnce = 4, Waiting = 12;
}
