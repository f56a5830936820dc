namespace Traceability.Core.Profiles;

/// <summary>A part of a profile file with the line it begins on. Whoever reads files makes these; the format is theirs.</summary>
/// <param name="Line">Line in the file, from 1.</param>
public abstract record ProfileNode(int Line);

/// <summary>Every scalar is text: figures must keep the digits they were written with.</summary>
public sealed record ProfileText(string Text, int Line) : ProfileNode(Line);

public sealed record ProfileList(IReadOnlyList<ProfileNode> Items, int Line) : ProfileNode(Line);

public sealed record ProfileMap(IReadOnlyList<ProfileMember> Members, int Line) : ProfileNode(Line);

public sealed record ProfileMember(string Name, int Line, ProfileNode Value);

/// <summary>Why a profile file is refused.</summary>
/// <param name="Line">Line in the file, from 1.</param>
/// <param name="Reason">What is wrong there.</param>
/// <param name="Remedy">What to do about it.</param>
public sealed record ProfileError(string File, int Line, string Reason, string Remedy)
{
    public override string ToString() => $"{File}:{Line}: {Reason} {Remedy}";
}
