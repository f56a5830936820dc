namespace Traceability.Core.Concrete;

/// <summary>How many strength tests a rule of sampling asks for.</summary>
public static class SamplingFrequency
{
    /// <summary>One test for so much concrete, cubic yards, and so much surface of slabs or walls (one side), square feet. ACI 318, frequency of testing (published).</summary>
    public const decimal VolumeYd3 = 150, SurfaceFt2 = 5000;

    /// <summary>The same in cubic metres and square metres. ACI 318M (published).</summary>
    public const decimal VolumeM3 = 110, SurfaceM2 = 460;

    /// <summary>Fewest batches sampled of a class of concrete, or every batch where there are fewer. ACI 318 (published).</summary>
    public const int BatchesOfClass = 5;

    /// <summary>Volume of a class below which tests may be left out with the permission of the authority, cubic yards. ACI 318 (published).</summary>
    public const decimal WaivableBelowYd3 = 50;

    /// <summary>Tests of a day and class: one, and one for every whole or broken portion of the volume and of the surface; 0 without concrete.</summary>
    /// <exception cref="ArgumentOutOfRangeException">A quantity is below 0 or a portion is not above 0.</exception>
    public static int OfDay(decimal volume, decimal surface, decimal perVolume = VolumeYd3, decimal perSurface = SurfaceFt2) =>
        volume == 0 && surface == 0 ? 0 : Math.Max(1, Math.Max(Portions(volume, perVolume), Portions(surface, perSurface)));

    /// <summary>Batches of a class that have to be sampled over the whole work, whatever its days ask.</summary>
    public static int OfClass(int batches) => Math.Min(Math.Max(batches, 0), BatchesOfClass);

    /// <summary>Whole or broken portions: 150 of 150 is one, 151 is two; groups of 15 units likewise.</summary>
    /// <exception cref="ArgumentOutOfRangeException">The quantity is below 0 or the portion is not above 0.</exception>
    public static int Portions(decimal quantity, decimal portion)
    {
        ArgumentOutOfRangeException.ThrowIfNegative(quantity);
        ArgumentOutOfRangeException.ThrowIfNegativeOrZero(portion);
        return (int)Math.Ceiling(quantity / portion);
    }
}
