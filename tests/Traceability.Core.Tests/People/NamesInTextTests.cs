using Traceability.Core.People;

namespace Traceability.Core.Tests.People;

/// <summary>A name in a text is found where it looks like one; names here are invented.</summary>
public sealed class NamesInTextTests
{
    private static readonly string[] s_names = ["Ada Quillfeather", "Mason, Bo", "Tam Oddling Jr", "Lu Wu", "Cage foreman", "Ina Stonewall-Perch", "Auditor"];

    [Theory]
    [InlineData("Ada Quillfeather saw it")]
    [InlineData("told ada  QUILLFEATHER by phone")]
    [InlineData("Quillfeather's tape")]
    [InlineData("read again with QUILLFEATHER.")]
    [InlineData("Crack shown to Mason")]
    [InlineData("Mason, Bo looked")]
    [InlineData("(Oddling)")]
    [InlineData("lu wu measured")]
    [InlineData("Stonewall-Perch was there")]
    public void A_text_that_names_somebody_is_found(string text) => Assert.True(NamesInText.Any(text, s_names));

    [Theory]
    [InlineData("")]
    [InlineData("p-104 saw it")]
    [InlineData("the mason patched it")]
    [InlineData("masonry saw")]
    [InlineData("Masonry saw")]
    [InlineData("Heat RF-Mason-2")]
    [InlineData("see Mason.pdf")]
    [InlineData("Mason2")]
    [InlineData("Wu")]
    [InlineData("The foreman of the day")]
    [InlineData("Foreman of the day")]
    [InlineData("Jr high water mark")]
    public void Ids_ordinary_words_and_short_names_are_left_alone(string text) => Assert.False(NamesInText.Any(text, s_names));
}
