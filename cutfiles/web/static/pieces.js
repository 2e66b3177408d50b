export class Pieces {
  constructor(keeper) {
    this.keeper = keeper;
  }
}
